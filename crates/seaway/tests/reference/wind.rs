//! Rows about wind.

use crate::frame::{Row, Verdict};
use seaway::apparent::{self, WindOffBow};
use seaway::beaufort::{self, BEAUFORT};
use seaway::point_of_sail::{NO_GO_HALF_ANGLE_DEG, PointOfSail};
use seaway::quantity::{METRES_PER_SECOND_PER_KNOT, signed_difference};
use seaway::{Bearing, DirectionFrom, Knots, Metres, MetresPerSecond, Wind, profile};

pub fn beaufort_class(row: &Row) -> Verdict {
    let class = BEAUFORT[row.number("force") as usize];
    let found = (
        class.name,
        Some(f64::from(class.knots.0)),
        class.knots.1.map(f64::from),
        Some(class.metres_per_second.0),
        class.metres_per_second.1,
        class.mean.map(|mean| mean.0),
        class.probable_wave.map(|height| height.0),
        class.highest_wave.map(|height| height.0),
    );
    let expected = (
        row.text("name"),
        row.maybe("expected_kn_min"),
        row.maybe("expected_kn_max"),
        row.maybe("expected_ms_min"),
        row.maybe("expected_ms_max"),
        row.maybe("expected_mean_kn"),
        row.maybe("expected_wave_probable_m"),
        row.maybe("expected_wave_max_m"),
    );
    // The bounds are inclusive: both ends of the row belong to its force, in both columns.
    let force = class.force;
    let ends_ms = [row.maybe("expected_ms_min"), row.maybe("expected_ms_max")];
    let by_ms = ends_ms
        .into_iter()
        .flatten()
        .all(|ms| beaufort::force(MetresPerSecond(ms)) == force);
    let ends_kn = [row.maybe("expected_kn_min"), row.maybe("expected_kn_max")];
    let by_kn = ends_kn
        .into_iter()
        .flatten()
        .all(|kn| beaufort::force_of_whole_knots(kn as u16) == force);
    row.same((found, by_ms, by_kn), (expected, true, true))
}

pub fn beaufort_point(row: &Row) -> Verdict {
    let value = row.maybe("value");
    let expected = row.number("expected");
    match row.text("quantity") {
        "force_from_ms" => row.same(
            f64::from(beaufort::force(MetresPerSecond(value.unwrap_or(f64::NAN)))),
            expected,
        ),
        "force_from_kn" => {
            // Both columns agree here.
            let knots = value.unwrap_or(f64::NAN);
            let by_ms = beaufort::force(MetresPerSecond::from(Knots(knots)));
            let by_kn = beaufort::force_of_whole_knots(knots as u16);
            row.same((f64::from(by_ms), f64::from(by_kn)), (expected, expected))
        }
        "force_from_kn_conflict" => {
            // The knot column is the one sailors read; the m/s column says one more at 16, 21 and 27 kn when the speed is
            // rounded to tenths as the table is, and for 21 kn (10.803 m/s) even without.
            let knots = row.number("value");
            let tenths = (knots * METRES_PER_SECOND_PER_KNOT * 10.0).round() / 10.0;
            let by_ms = beaufort::force(MetresPerSecond(tenths));
            let by_kn = beaufort::force_of_whole_knots(knots as u16);
            row.same((f64::from(by_kn), f64::from(by_ms)), (expected, expected + 1.0))
        }
        "beaufort_formula_speed" => {
            row.agree(&[(beaufort::equivalent_speed(row.number("value")).0, expected)])
        }
        "beaufort_formula_half_integers_in_class_gaps" => {
            let in_gap = |force: usize| {
                let speed = beaufort::equivalent_speed(force as f64 - 0.5).0;
                let below = BEAUFORT[force - 1].metres_per_second.1.unwrap_or(f64::INFINITY);
                below < speed && speed < BEAUFORT[force].metres_per_second.0
            };
            row.same((1..=12).filter(|&force| in_gap(force)).count() as f64, expected)
        }
        _ => row.unknown(),
    }
}

pub fn vector(row: &Row) -> Verdict {
    match row.text("quantity") {
        "uv_to_speed_direction" => {
            let wind = Wind::from_components(
                MetresPerSecond(row.number("u_ms")),
                MetresPerSecond(row.number("v_ms")),
            );
            // 360 and 0 are the same north.
            let turn = signed_difference(row.number("expected_direction_deg"), wind.from.degrees());
            row.agree(&[
                (MetresPerSecond::from(wind.speed).0, row.number("expected_speed")),
                (turn, 0.0),
            ])
        }
        "speed_direction_to_uv" => {
            let wind = Wind {
                speed: Knots(row.number("speed_kn")),
                from: DirectionFrom::new(row.number("direction_deg")),
            };
            let (u, v) = wind.components();
            row.agree(&[
                (u.0, row.number("expected_u_ms")),
                (v.0, row.number("expected_v_ms")),
            ])
        }
        "kn_to_ms" => row.agree(&[(
            MetresPerSecond::from(Knots(row.number("speed_kn"))).0,
            row.number("expected_speed"),
        )]),
        _ => row.unknown(),
    }
}

pub fn profile(row: &Row) -> Verdict {
    let expected = row.number("expected");
    let (lower, upper) = (row.maybe("z1_m").map(Metres), row.maybe("z2_m").map(Metres));
    let speed = row.maybe("speed_ms").map(MetresPerSecond);
    let surface = || profile::sea_surface(speed?, lower?);
    let found = match row.text("quantity") {
        "roughness_length" => Some(profile::OPEN_SEA_ROUGHNESS.0),
        "log_law_ratio" => (|| profile::log_law_ratio(lower?, upper?, Metres(row.number("z0_m"))))(),
        "charnock_friction_velocity" => surface().map(|surface| surface.friction_velocity.0),
        "charnock_roughness" => surface().map(|surface| surface.roughness.0),
        "charnock_speed_at_15m" => (|| profile::at_height(speed?, lower?, upper?))().map(|speed| speed.0),
        "garratt_drag_coefficient" => {
            return Verdict::Later("a drag law, not the log law over Charnock's roughness");
        }
        "power_law_one_seventh_ratio" | "power_law_speed" | "power_law_exponent_sea" => {
            return Verdict::Later("a power law, not the log law that is used");
        }
        _ => return row.unknown(),
    };
    row.agree(&[(found.unwrap_or(f64::NAN), expected)])
}

pub fn gust(row: &Row) -> Verdict {
    match row.text("quantity") {
        "gust_factor_3s" if row.text("tref_s") == "600" => {
            Verdict::Later("the club's policy: see crates/conditions")
        }
        "gust_allowance_rule_of_thumb" => Verdict::Later("the club's policy: see crates/conditions"),
        "gust_factor_3s" | "duration_factor_over_hourly" | "hourly_from_5min_speed" => {
            Verdict::Later("averaging times other than the forecast's: with the logbook's observations")
        }
        "marine_gust_band" => Verdict::Later("with official warnings"),
        _ => row.unknown(),
    }
}

pub fn apparent(row: &Row) -> Verdict {
    let (speed, angle) = (row.number("expected_speed_kn"), row.maybe("expected_angle_deg"));
    let boat = Knots(row.number("bs_kn"));
    let given = |speed: &str, angle: &str| WindOffBow {
        speed: Knots(row.number(speed)),
        angle_deg: row.number(angle),
    };
    let over_earth = |speed: &str, from: &str| Wind {
        speed: Knots(row.number(speed)),
        from: DirectionFrom::new(row.number(from)),
    };
    let heading = || Bearing::new(row.number("heading_deg"));
    let turned = |wind: Wind| signed_difference(row.number("expected_direction_deg"), wind.from.degrees());
    match row.text("quantity") {
        "apparent_from_true" => {
            let found = apparent::apparent_off_bow(given("tws_kn", "twa_deg"), boat);
            row.agree(&[
                (found.speed.0, speed),
                (found.angle_deg, angle.unwrap_or(f64::NAN)),
            ])
        }
        "apparent_from_true_degenerate" => {
            let found = apparent::apparent_off_bow(given("tws_kn", "twa_deg"), boat);
            row.agree(&[(found.speed.0, speed), (found.angle_deg, 0.0)])
        }
        "true_from_apparent" => {
            let found = apparent::true_off_bow(given("aws_kn", "awa_deg"), boat);
            row.agree(&[
                (found.speed.0, speed),
                (found.angle_deg, angle.unwrap_or(f64::NAN)),
            ])
        }
        "apparent_from_forecast_wind" => {
            let found = apparent::apparent_wind(over_earth("tws_kn", "twd_deg"), heading(), boat);
            let off_bow = apparent::off_bow(found, heading()).angle_deg;
            row.agree(&[
                (found.speed.0, speed),
                (off_bow, angle.unwrap_or(f64::NAN)),
                (turned(found), 0.0),
            ])
        }
        "true_from_apparent_earth" => {
            let found = apparent::true_wind(over_earth("aws_kn", "awd_deg"), heading(), boat);
            row.agree(&[(found.speed.0, speed), (turned(found), 0.0)])
        }
        _ => row.unknown(),
    }
}

pub fn point_of_sail(row: &Row) -> Verdict {
    let expected = row.number("expected");
    match row.text("quantity") {
        "point_of_sail" => row.same(
            PointOfSail::of(expected, NO_GO_HALF_ANGLE_DEG).name(),
            row.text("name"),
        ),
        "no_go_half_angle" => row.agree(&[(NO_GO_HALF_ANGLE_DEG, expected)]),
        "no_go_full_angle" => row.agree(&[(2.0 * NO_GO_HALF_ANGLE_DEG, expected)]),
        "force5_speed" => row.agree(&[(BEAUFORT[5].mean.map_or(f64::NAN, |mean| mean.0), expected)]),
        "force5_main_reefs_beginner_crew" | "force5_headsail_fraction_beginner_crew" => {
            Verdict::Later("a boat's reef table: checked by crates/club on the table it proposes")
        }
        "reefed_cruiser_speed" => row.agree(&[(seaway::heel::REEFED_CRUISER_SPEED.0, expected)]),
        _ => row.unknown(),
    }
}
