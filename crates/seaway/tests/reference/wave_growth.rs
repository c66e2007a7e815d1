//! Rows about the growth of waves: the formulas used tightly, the results of other methods loosely.

use crate::frame::{Row, Verdict};
use seaway::wave_growth::{
    Blow, GrownSea, WindFactor, grown_sea, grown_sea_of_factor, least_duration, unbounded_sea,
};
use seaway::{Metres, MetresPerSecond, Seconds};

/// How far methods lie apart on the same case: 20 % is common, and the CEM height lies 21.6 % under that of SPM 1984.
const BETWEEN_METHODS: f64 = 0.22;

/// The row read off a diagram without a duration needs 6.5 h, as its source says; the fetch of 50 nm alone would be more.
const DIAGRAM_NEEDS: Seconds = Seconds(6.5 * 3600.0);

pub fn growth(row: &Row) -> Verdict {
    let wind = || MetresPerSecond(row.number("wind_ms"));
    let blow = || Blow {
        fetch: Metres(row.number("fetch_m")),
        duration: row.maybe("duration_s").map(Seconds),
        depth: row.maybe("depth_m").map(Metres),
    };
    let tight = row.number("tolerance");
    match row.text("method") {
        // The smallest duration is a row of its own; it has no height.
        "SPM 1984 with UA from the drag law" if row.text("quantity") == "fetch_limited_min_duration" => {
            let found = least_duration(WindFactor::of_wind(wind()), blow().fetch);
            let expected = row.number("expected_duration_s");
            near(&[(found.map_or(f64::NAN, |found| found.0), expected)], tight)
        }
        "SPM 1984 with UA from the drag law" | "ACES shallow open water" => {
            driven_by_factor(row, wind()).unwrap_or_else(|| sea(row, grown_sea(wind(), blow()), tight))
        }
        "ACES duration limited deep" => {
            let found = unbounded_sea(WindFactor::of_wind(wind()), Seconds(row.number("duration_s")));
            driven_by_factor(row, wind()).unwrap_or_else(|| sea(row, found, tight))
        }
        "ACES restricted fetch deep" => {
            let factor = WindFactor(MetresPerSecond(row.number("wind_factor_ms")));
            let along = factor.along(row.number("angle_deg"));
            sea(row, grown_sea_of_factor(along, blow()), BETWEEN_METHODS)
        }
        "JONSWAP 1973" | "Wilson 1965" | "CEM (height only)" | "SMB (SPM 1977)" => {
            sea(row, grown_sea(wind(), blow()), BETWEEN_METHODS)
        }
        "nomogram" => {
            let duration = Some(blow().duration.unwrap_or(DIAGRAM_NEEDS));
            sea(row, grown_sea(wind(), Blow { duration, ..blow() }), tight)
        }
        // The row's 20 m/s enter the coefficients as they are: here that is a factor of 20 m/s.
        "SPM 1984 form" => sea(
            row,
            grown_sea_of_factor(WindFactor(wind()), blow()),
            BETWEEN_METHODS,
        ),
        _ => row.unknown(),
    }
}

/// A complaint where the row gives the wind factor of its wind and it is another one.
fn driven_by_factor(row: &Row, wind: MetresPerSecond) -> Option<Verdict> {
    let expected = row.number("wind_factor_ms");
    match near(&[(WindFactor::of_wind(wind).0.0, expected)], 1e-4) {
        Verdict::Holds => None,
        complaint => Some(complaint),
    }
}

fn sea(row: &Row, found: Option<GrownSea>, tolerance: f64) -> Verdict {
    let Some(found) = found else {
        return Verdict::Fails("no sea was found".into());
    };
    let mut pairs = vec![(found.height.0, row.number("expected_h_m"))];
    pairs.extend(
        row.maybe("expected_t_s")
            .map(|expected| (found.period.0, expected)),
    );
    near(&pairs, tolerance)
}

/// Holds where every found value is within a fraction of the expected one.
fn near(pairs: &[(f64, f64)], fraction: f64) -> Verdict {
    let close = |&(found, expected): &(f64, f64)| (found / expected - 1.0).abs() <= fraction;
    match pairs.iter().find(|pair| !close(pair)) {
        None => Verdict::Holds,
        Some((found, expected)) => Verdict::Fails(format!(
            "found {found}, expected {expected} within {fraction} of it"
        )),
    }
}
