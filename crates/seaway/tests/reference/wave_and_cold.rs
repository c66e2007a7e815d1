//! Rows about waves, the state of the sea and cold.

use crate::frame::{Row, Verdict};
use seaway::beaufort::{self, SEA_STATES};
use seaway::cold::wind_chill;
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
        "wavelength_at_depth" => return Verdict::Later("waves over a bar: with the entrance's depth"),
        "wave_height_exceeded" => return Verdict::Later("single high waves: with the wave distribution"),
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
        "cold_water_survival" | "cold_water_limit" => Verdict::Later("with the cold-water cautions"),
        _ => row.unknown(),
    }
}
