//! Rows about rigs, heel and balance.

use crate::frame::{Row, Verdict};
use seaway::beaufort::BEAUFORT;
use seaway::heel::{self, Stiffness};
use seaway::rig::{self, LUFF_TAKEN_BY_A_REEF, RigTriangle};
use seaway::{Kilograms, Knots, Metres, Pascals, SquareMetres};

fn triangle(row: &Row) -> RigTriangle {
    RigTriangle {
        i: Metres(row.number("i_m")),
        j: Metres(row.number("j_m")),
        p: Metres(row.number("p_m")),
        e: Metres(row.number("e_m")),
        boom_above_deck: Metres(1.0),
    }
}

pub fn rig_and_heel(row: &Row) -> Verdict {
    let area = || SquareMetres(row.number("area_m2"));
    let arm = || Metres(row.number("arm_m"));
    let stiffness = || Stiffness::of_metacentre(Kilograms(row.number("mass_kg")), Metres(row.number("gm_m")));
    let pressure = || heel::wind_pressure(Knots(row.number("wind_kn")), row.number("rho_kgm3"));
    let found = match row.text("quantity") {
        "main_triangle_area" => triangle(row).main_area().0,
        "foretriangle_area" => triangle(row).foretriangle_area().0,
        "sail_area_100_percent" => triangle(row)
            .both(0.0, 1.0)
            .map_or(f64::NAN, |sails| sails.area.0),
        "wind_pressure" => pressure().0,
        "wind_speed_for_1_psf" => heel::wind_of_pressure(Pascals(47.8803), row.number("rho_kgm3")).0,
        "righting_moment_per_degree" => stiffness().moment_at_one_degree().0,
        "heeling_moment_upright" => heel::heeling_moment(pressure(), area(), arm()).0,
        "heel_equilibrium" => {
            let upright = heel::heeling_moment(pressure(), area(), arm());
            heel::steady_heel_deg(upright, stiffness(), row.number("exponent")).unwrap_or(f64::NAN)
        }
        "dellenbaugh_angle" => heel::dellenbaugh_angle_deg(area(), arm(), stiffness()),
        "heeling_lever_factor" => heel::lever_left(row.number("heel_deg"), row.number("exponent")),
        "iso12217_1_wind_heeling_moment" => {
            return Verdict::Later("the motor-boat part of a standard, whose sailing part was not read");
        }
        _ => return row.unknown(),
    };
    row.agree(&[(found, row.number("expected"))])
}

pub fn sails_and_balance(row: &Row) -> Verdict {
    match row.text("quantity") {
        "main_area_left_after_reefs" => {
            let taken = row.number("reefs") * LUFF_TAKEN_BY_A_REEF;
            row.agree(&[
                (taken, row.number("luff_fraction_taken")),
                (rig::area_left(taken), row.number("expected")),
            ])
        }
        "main_area_left_deep_reef" => row.agree(&[(
            rig::area_left(row.number("luff_fraction_taken")),
            row.number("expected"),
        )]),
        "heavy_weather_sail_beaufort" | "storm_sail_beaufort" => {
            let class = &BEAUFORT[row.number("expected") as usize];
            row.agree(&[
                (f64::from(class.knots.0), row.number("expected_min")),
                (
                    class.knots.1.map_or(f64::NAN, f64::from),
                    row.number("expected_max"),
                ),
            ])
        }
        "lead_of_ce_over_clr" => {
            // A boat of a middling lead that shifts by the bound still has a lead of the range of practice.
            let half_the_range = (row.number("expected_max") - row.number("expected_min")) / 200.0;
            if rig::BALANCED_WITHIN_WATERLINES <= half_the_range {
                Verdict::Holds
            } else {
                Verdict::Fails(format!(
                    "a shift of more than {half_the_range} counts as balanced"
                ))
            }
        }
        "headsail_furl_limit" => Verdict::Later("a rule of thumb that common practice in force 5 goes past"),
        "heavy_weather_jib_max_area" => Verdict::Later("storm sails are in no reef table"),
        "lead_of_ce_over_clr_sloop" | "lead_of_ce_over_clr_masthead" => Verdict::Later(
            "a lead needs the lateral centre, which has two definitions; only shifts are computed",
        ),
        "design_category" => Verdict::Later("a club gives no design category"),
        _ => row.unknown(),
    }
}
