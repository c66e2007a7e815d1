//! The sea that the local wind raises over the venue's fetch, beside a wave model and without one.
//!
//! Heights by ACES Technical Reference 1-1, deep water: UA = U sqrt(0.75 + 0.067 U), H = 0.0016 UA sqrt(F/g),
//! T = 0.2857 UA^(1/3) F^(1/3) / g^(2/3).

use super::support::*;
use crate::{Correction, Element, HourConditions, VenueConditions};
use club::waters::SeaByFetch;
use forecast::{Gap, Member, Parameter};
use seaway::wave_growth::FetchTable;
use seaway::{DirectionFrom, Metres};

const HERE: [(f64, f64); 1] = [(40.5, -9.5)];
/// Ten nautical miles.
const TEN_MILES: f64 = 18_520.0;

fn water(alone: bool, fetches: &[(f64, f64)]) -> club::Venue {
    let rows = fetches
        .iter()
        .map(|&(from, fetch)| (DirectionFrom::new(from), Metres(fetch)));
    club::Venue {
        fetch: Some(SeaByFetch {
            table: FetchTable::new(rows.collect()).expect("a table"),
            depth: None,
            alone,
        }),
        ..venue(&HERE)
    }
}

fn model(height: f64) -> Run {
    Run::new("gfs-wave", 2, 2, 1, &[0, 12])
        .constant(Parameter::WaveHeight, height)
        .constant(Parameter::WavePeriod, 7.0)
        .constant(Parameter::WaveDirection, 300.0)
}

fn wind(speed: f64) -> Run {
    Run::new("gfs", 2, 2, 1, &[0, 12]).wind(speed, 225.0)
}

#[track_caller]
fn is_raised(hour: &HourConditions) {
    // 12 kn = 6.173 m/s: UA = 6.659; H = 0.0016 x 6.659 x sqrt(18520/9.81) = 0.463 m;
    // T = 0.2857 x 6.659^(1/3) x 18520^(1/3) / 9.81^(2/3) = 0.2857 x 1.8813 x 26.457 / 4.583 = 3.103 s.
    let height = hour.wave_height.as_ref().expect("known");
    assert!((height.value.0 - 0.463).abs() < 5e-4, "{height:?}");
    assert!(height.notes.by_fetch && !height.notes.no_spread);
    assert_eq!(height.source, hour.wind.as_ref().expect("known").source);
    let period = hour.wave_period.as_ref().expect("known").value.0;
    assert!((period - 3.103).abs() < 2e-3, "{period}");
    near(hour.wave_from.as_ref().expect("known").value.degrees(), 225.0);
    // L = 9.81 T^2 / (2 pi) = 15.03 m.
    let steepness = hour.steepness.as_ref().expect("known").value;
    assert!((steepness - 0.463 / 15.03).abs() < 1e-4, "{steepness}");
}

#[test]
fn the_larger_of_model_and_fetch_counts_with_its_period_and_direction() {
    let water = water(false, &[(0.0, TEN_MILES)]);
    is_raised(&hour(&water, &[&wind(12.0), &model(0.3)], 6.0));
    let hour = hour(&water, &[&wind(12.0), &model(0.5)], 6.0);
    let height = hour.wave_height.expect("known");
    near(height.value.0, 0.5);
    assert!(!height.notes.by_fetch && height.source.as_str() == "gfs-wave");
    near(hour.wave_period.expect("known").value.0, 7.0);
    near(hour.wave_from.expect("known").value.degrees(), 300.0);
}

#[test]
fn where_no_model_reaches_none_is_asked() {
    is_raised(&hour(&water(true, &[(0.0, TEN_MILES)]), &[&wind(12.0)], 6.0));
    is_raised(&hour(
        &water(true, &[(0.0, TEN_MILES)]),
        &[&wind(12.0), &model(2.0)],
        6.0,
    ));
    // Calm water is flat and not steep.
    let calm = hour(&water(true, &[(0.0, TEN_MILES)]), &[&wind(0.0)], 6.0);
    near(calm.wave_height.expect("known").value.0, 0.0);
    near(calm.steepness.expect("known").value, 0.0);
    // Without wind nothing is known of its sea.
    let conditions = assemble(&water(true, &[(0.0, TEN_MILES)]), &[&model(0.5)]);
    let hour = conditions.governing().at(Member(0), at_h(6.0));
    let missing = hour.wave_height.expect_err("missing");
    assert_eq!((missing.gap, missing.elsewhere), (Gap::NoRun, None));
}

#[test]
fn while_model_or_wind_is_missing_the_sea_is_at_least_the_other() {
    let water = water(false, &[(0.0, TEN_MILES)]);
    let hour = hour(&water, &[&wind(12.0)], 6.0);
    let missing = hour.wave_height.expect_err("missing");
    assert_eq!(missing.gap, Gap::NoRun);
    let at_least = missing.elsewhere.expect("the fetch's");
    assert!((at_least - 0.463).abs() < 5e-4);
    assert!(hour.wave_period.is_err() && hour.wave_from.is_err());
    assert_eq!(hour.steepness.expect_err("missing").elsewhere, None);
    let conditions = assemble(&water, &[&model(0.5)]);
    let hour = conditions.governing().at(Member(0), at_h(6.0));
    let at_least = hour
        .wave_height
        .expect_err("missing")
        .elsewhere
        .expect("the model's");
    near(at_least, 0.5);
}

#[test]
fn each_member_raises_its_own_sea_and_the_model_has_no_spread() {
    let ensemble = Run::new("gefs", 2, 2, 3, &[0, 12])
        .field(Parameter::WindU, |_, member, _| {
            Ok((8.0 * (member + 1) as f64 * MS) as f32)
        })
        .constant(Parameter::WindV, 0.0);
    let water = water(false, &[(0.0, TEN_MILES)]);
    let conditions = assemble(&water, &[&ensemble, &model(0.5)]);
    let set = conditions.ensemble().expect("an ensemble");
    let sea = |member| set.at(Member(member), at_h(6.0)).wave_height.expect("known");
    // 8 kn: UA = 4.115 sqrt(0.75 + 0.2757) = 4.168, 0.290 m: the model's 0.5. 16 kn: 9.390, 0.653 m; 24 kn: 12.347 sqrt(1.5772) =
    // 15.506, 1.078 m.
    assert!(!sea(0).notes.by_fetch && sea(0).notes.no_spread);
    near(sea(0).value.0, 0.5);
    for (member, expected) in [(1, 0.653), (2, 1.078)] {
        let found = sea(member);
        assert!((found.value.0 - expected).abs() < 1e-3, "{found:?}");
        assert!(found.notes.by_fetch && !found.notes.no_spread);
    }
}

#[test]
fn it_is_told_by_the_wind_that_raised_it() {
    let run = wind(12.0);
    let slices = [run.slice.clone(), model(0.3).slice];
    let water = water(false, &[(0.0, TEN_MILES)]);
    let conditions =
        VenueConditions::assemble(&water, &policy(), &slices, run_time(), (at_h(0.0), at_h(12.0)));
    let set = conditions.governing();
    let trace = set.trace(&slices, Element::WaveHeight, Member(0), at_h(6.0));
    let value = trace.value.expect("known");
    near(
        value,
        set.at(Member(0), at_h(6.0)).wave_height.expect("known").value.0,
    );
    assert!(
        trace
            .steps
            .iter()
            .all(|step| [Parameter::WindU, Parameter::WindV].contains(&step.parameter))
    );
    let Some(&Correction::ByFetch {
        wind_kn,
        from_deg,
        model_m,
    }) = trace.corrections.first()
    else {
        panic!("{:?}", trace.corrections);
    };
    near(wind_kn, 12.0);
    near(from_deg, 225.0);
    near(model_m.expect("the model's"), 0.3);
}

// Property: beside a model the sea is never lower than the model's, nor than over a shorter fetch.
#[test]
fn the_sea_is_never_lower_than_the_models_nor_over_a_longer_fetch() {
    for speed in [0.0, 3.0, 8.0, 15.0, 28.0, 45.0] {
        for modelled in [0.0, 0.4, 1.5] {
            let mut before = modelled;
            for miles in [0.0, 0.5, 3.0, 20.0] {
                let water = water(false, &[(225.0, miles * 1852.0), (45.0, 0.0)]);
                let found = hour(&water, &[&wind(speed), &model(modelled)], 6.0);
                let height = found.wave_height.expect("known").value.0;
                assert!(
                    height >= before - 1e-6,
                    "{speed} {modelled} {miles}: {height} after {before}"
                );
                before = height;
            }
        }
    }
}
