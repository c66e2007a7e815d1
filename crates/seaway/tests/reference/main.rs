//! Every row of the published check values against the function it speaks of.
//!
//! A row is checked here, or listed as left for later with the reason; a row that is neither fails.
//! Source and provenance stand in each row and are printed when it fails.

#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "all of this crate is a test; clippy only sees that within functions marked so"
)]

mod boat;
mod frame;
mod shared;
mod sun;
mod wave_and_cold;
mod wave_growth;
mod wind;

use frame::{Row, Verdict, rows};

/// File, the function that takes a row, rows checked, rows left for later.
type Case = (&'static str, fn(&Row) -> Verdict, usize, usize);

const CASES: [Case; 15] = [
    ("a_beaufort", wind::beaufort_class, 13, 0),
    ("a_beaufort_points", wind::beaufort_point, 10, 0),
    ("a_sea_state", wave_and_cold::sea_state, 12, 0),
    ("b_wind_vectors", wind::vector, 9, 0),
    ("b_wind_profile", wind::profile, 7, 5),
    ("b_gusts", wind::gust, 0, 7),
    ("c_apparent_wind", wind::apparent, 12, 0),
    ("c_points_of_sail", wind::point_of_sail, 10, 2),
    ("d_rig_heel", boat::rig_and_heel, 16, 1),
    ("d_sails_balance", boat::sails_and_balance, 7, 8),
    ("e_wave_growth", wave_growth::growth, 13, 0),
    ("e_wave_kinematics", wave_and_cold::wave, 16, 0),
    ("f_sun", sun::sun, 14, 0),
    ("g_cold", wave_and_cold::cold, 14, 2),
    ("g_fog_thunder", wave_and_cold::damp_air, 5, 8),
];

#[test]
fn every_row_holds_or_is_listed() {
    let mut failures = Vec::new();
    for (file, check, checked, later) in CASES {
        let rows = rows(file);
        let (mut found_checked, mut found_later) = (0, 0);
        for row in &rows {
            match check(row) {
                Verdict::Holds => found_checked += 1,
                Verdict::Later(_) => found_later += 1,
                Verdict::Fails(why) => failures.push(row.complaint(file, &why)),
            }
        }
        if (found_checked, found_later) != (checked, later) {
            failures.push(format!(
                "{file}.csv: {found_checked} rows hold and {found_later} are left, not {checked} and {later}"
            ));
        }
    }
    assert!(
        failures.is_empty(),
        "{} failures:\n{}",
        failures.len(),
        failures.join("\n")
    );
}
