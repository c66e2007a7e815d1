//! Rows about waves, the state of the sea, cold and damp air.

use crate::frame::{Row, Verdict};
use seaway::air::{FOG_BELOW, VisibilityTerm, dew_point};
use seaway::beaufort::{self, SEA_STATES};
use seaway::cold::{time_in_water, wind_chill};
use seaway::{Celsius, Knots, Metres, Seconds, wave_current, waves};

pub fn sea_state(row: &Row) -> Verdict {
    match row.text("quantity") {
        "sea_state_class" => {
            let state = SEA_STATES[row.number("code") as usize];
            let found = (
                state.code,
                state.name,
                state.above.0,
                state.up_to.map(|up_to| up_to.0),
            );
            let expected = (
                row.number("code") as u8,
                row.text("name"),
                row.number("expected_min_m"),
                row.maybe("expected_max_m"),
            );
            row.same(found, expected)
        }
        "sea_state_from_height" => {
            let state = beaufort::sea_state(Metres(row.number("height_m")));
            row.same(
                state.map(|state| f64::from(state.code)),
                row.maybe("expected_code"),
            )
        }
        _ => row.unknown(),
    }
}

pub fn wave(row: &Row) -> Verdict {
    let period = row.maybe("period_s").map_or(Seconds(f64::NAN), Seconds);
    let on_stream = || wave_current::stream_ratios(period, Knots(row.number("current_kn")).into());
    let found = match row.text("quantity") {
        "deep_wavelength" => waves::deep_water_length(period).0,
        "deep_phase_speed" => waves::deep_water_phase_speed(period).0,
        "steepness" => waves::steepness(Metres(row.number("height_m")), period).unwrap_or(f64::NAN),
        "steepness_limit" => waves::BREAKING_STEEPNESS,
        "wavelength_at_depth" => {
            waves::length_over(Metres(row.number("depth_m")), period).map_or(f64::NAN, |length| length.0)
        }
        "wave_height_exceeded" => {
            let significant = Metres(row.number("height_m"));
            waves::exceeded_height(significant, row.number("probability")).map_or(f64::NAN, |high| high.0)
        }
        "wave_current_height_ratio" => on_stream().map_or(f64::NAN, |ratios| ratios.height),
        "wave_current_steepness_ratio" => on_stream().map_or(f64::NAN, |ratios| ratios.steepness()),
        "blocking_current" => Knots::from(wave_current::blocking_stream(period)).0,
        _ => return row.unknown(),
    };
    row.agree(&[(found, row.number("expected"))])
}

pub fn cold(row: &Row) -> Verdict {
    match row.text("quantity") {
        "wind_chill_metric" | "wind_chill_us" | "wind_chill_not_defined" => {
            let fahrenheit = row.text("temp_unit") == "F";
            let temperature = row.number("air_temp");
            let air = if fahrenheit {
                (temperature - 32.0) / 1.8
            } else {
                temperature
            };
            // 1 mile is 1.609344 km, exactly.
            let km_per_h = row.number("wind")
                * if row.text("wind_unit") == "mph" {
                    1.609_344
                } else {
                    1.0
                };
            let chill = wind_chill(Celsius(air), Knots(km_per_h / 1.852));
            let shown = chill.map(|chill| if fahrenheit { chill.0 * 1.8 + 32.0 } else { chill.0 });
            match (shown, row.maybe("expected")) {
                (Some(found), Some(expected)) => row.agree(&[(found, expected)]),
                (found, expected) => row.same(found, expected),
            }
        }
        "wind_chill_low_wind" => {
            Verdict::Later("a form for light air that is not used: there the chill is not defined")
        }
        "cold_water_survival" => {
            let coldest = row.maybe("water_min_f").unwrap_or(31.0);
            // Just above the lower bound, in the middle and on the upper bound of the printed band.
            let within = [
                coldest + 0.1,
                (coldest + row.number("water_max_f")) / 2.0,
                row.number("water_max_f"),
            ];
            let found = within.map(|fahrenheit| {
                time_in_water(Celsius((fahrenheit - 32.0) / 1.8))
                    .map(|times| (times.exhaustion, times.survival))
            });
            row.same(
                found,
                [Some((row.text("expected_exhaustion"), row.text("expected_survival"))); 3],
            )
        }
        "cold_water_limit" => Verdict::Later("the club's policy: see crates/club"),
        _ => row.unknown(),
    }
}

pub fn damp_air(row: &Row) -> Verdict {
    let expected_bounds = || (row.number("expected_min"), row.number("expected_max"));
    match row.text("quantity") {
        "dewpoint" => {
            let found = dew_point(
                Celsius(row.number("air_temp_c")),
                row.number("rh_percent") / 100.0,
            );
            row.agree(&[(found.map_or(f64::NAN, |dew| dew.0), row.number("expected"))])
        }
        "fog_definition" => row.same((0.0, FOG_BELOW.0), expected_bounds()),
        "marine_visibility_term" => {
            let (from, to) = expected_bounds();
            // A metre inside either bound it is the term, a metre outside it is not.
            let found = [from - 1.0, from + 1.0, to - 1.0, to + 1.0].map(|metres| {
                VisibilityTerm::of(Metres(metres)).is_some_and(|term| term.name() == row.text("name"))
            });
            row.same(found, [false, true, true, false])
        }
        "fog_seldom_if_spread_above" => Verdict::Later("the club's policy: see crates/club"),
        "cape_band" if matches!(row.text("name"), "marginally unstable" | "moderately unstable") => {
            Verdict::Later("the club's policy: see crates/club")
        }
        "cape_band" => Verdict::Later("no rule speaks of this band"),
        "us_marine_warning" => Verdict::Later("with official warnings"),
        _ => row.unknown(),
    }
}
