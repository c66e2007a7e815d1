//! Gusts: given or estimated, of an instant or of an interval; and the sector factors.

use super::support::*;
use chrono::TimeDelta;
use club::model::Venue;
use forecast::{Gap, Member, Parameter, Process, Sample};

const HERE: [(f64, f64); 1] = [(40.5, -9.5)];

fn kn(value: f64) -> Sample {
    Ok((value * MS) as f32)
}

fn gust_at(run: &Run, venue: &Venue, hours: f64) -> crate::Known<seaway::Knots> {
    hour(venue, &[run], hours).gust
}

#[test]
fn an_instantaneous_gust_is_the_larger_of_the_steps_around() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 1, 2])
        .wind(10.0, 90.0)
        .by_step(Parameter::Gust, &[kn(12.0), kn(20.0), kn(14.0)]);
    let venue = venue(&HERE);
    for (hours, expected) in [(0.0, 12.0), (0.1, 20.0), (1.0, 20.0), (1.9, 20.0), (2.0, 14.0)] {
        let gust = gust_at(&run, &venue, hours).expect("known");
        near(gust.value.0, expected);
        assert_eq!(gust.notes.estimated_gust, None);
    }
}

#[test]
fn an_interval_maximum_counts_for_every_minute_of_its_interval_and_both_on_a_boundary() {
    // Maxima of 0-3, 3-6 and 6-9 h; at 0 h the producer gives none.
    let run = Run::new("gfs", 2, 2, 1, &[0, 3, 6, 9])
        .wind(10.0, 90.0)
        .by_step(
            Parameter::Gust,
            &[Err(Gap::NotInFeed), kn(15.0), kn(25.0), kn(18.0)],
        )
        .intervals(Parameter::Gust, Process::Maximum, |step| {
            (step > 0).then(|| (step - 3, step))
        });
    let venue = venue(&HERE);
    let table = [
        (0.0, 15.0),
        (2.99, 15.0),
        (3.0, 25.0),
        (3.01, 25.0),
        (6.0, 25.0),
        (6.01, 18.0),
        (9.0, 18.0),
    ];
    for (hours, expected) in table {
        near(gust_at(&run, &venue, hours).expect("known").value.0, expected);
    }
    assert_eq!(gap(&gust_at(&run, &venue, 9.5)), Gap::BeyondRun);
}

#[test]
fn a_maximum_of_more_than_three_hours_is_for_early_views() {
    let long = |hours: u16| {
        let run = Run::new("gfs", 2, 2, 1, &[0, hours])
            .wind(10.0, 90.0)
            .by_step(Parameter::Gust, &[Err(Gap::NotInFeed), kn(20.0)])
            .intervals(Parameter::Gust, Process::Maximum, |step| {
                (step > 0).then_some((0, step))
            });
        gust_at(&run, &venue(&HERE), 2.0)
            .expect("known")
            .notes
            .long_gust_interval
    };
    assert!(!long(3));
    assert!(long(6));
}

#[test]
fn a_damaged_maximum_makes_its_hours_missing_and_is_never_estimated() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 3, 6, 9])
        .wind(10.0, 90.0)
        .by_step(
            Parameter::Gust,
            &[Err(Gap::NotInFeed), kn(15.0), Err(Gap::Damaged), kn(18.0)],
        )
        .intervals(Parameter::Gust, Process::Maximum, |step| {
            (step % 6 == 3).then(|| (step - 3, step))
        });
    let venue = venue(&HERE);
    // On the boundaries the larger of the two cannot be told.
    for hours in [3.0, 4.0, 6.0] {
        assert_eq!(gap(&gust_at(&run, &venue, hours)), Gap::Damaged, "{hours} h");
    }
    assert!(gust_at(&run, &venue, 2.9).is_ok() && gust_at(&run, &venue, 6.1).is_ok());
    // The mean is known all the while.
    assert!(hour(&venue, &[&run], 4.0).wind.is_ok());
}

#[test]
fn a_damaged_instantaneous_gust_is_missing_and_never_estimated() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 1, 2])
        .wind(10.0, 90.0)
        .by_step(Parameter::Gust, &[kn(12.0), Err(Gap::Damaged), kn(14.0)]);
    let venue = venue(&HERE);
    for hours in [0.5, 1.0, 1.5] {
        assert_eq!(gap(&gust_at(&run, &venue, hours)), Gap::Damaged, "{hours} h");
    }
}

#[test]
fn a_source_without_gust_gets_an_estimate_larger_off_the_land() {
    // No source: common practice. 20 x 1.25 = 25 kn at sea, 20 x 1.5 = 30 kn off a shore between 60 and 120 degrees.
    let run = Run::new("gfs", 2, 2, 1, &[0, 3]).wind(20.0, 119.0);
    let mut venue = venue(&HERE);
    let at_sea = gust_at(&run, &venue, 1.0).expect("known");
    near(at_sea.value.0, 25.0);
    assert_eq!(at_sea.notes.estimated_gust, Some(1.25));
    venue.shores.push(shore(90.0, 60.0));
    let off_land = gust_at(&run, &venue, 1.0).expect("known");
    near(off_land.value.0, 30.0);
    assert_eq!(off_land.notes.estimated_gust, Some(1.5));
    let beside = Run::new("gfs", 2, 2, 1, &[0, 3]).wind(20.0, 121.0);
    near(gust_at(&beside, &venue, 1.0).expect("known").value.0, 25.0);
}

#[test]
fn a_gust_declared_but_offered_nowhere_counts_as_a_source_without_gust() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 3])
        .wind(20.0, 119.0)
        .by_step(Parameter::Gust, &[Err(Gap::NotInFeed), Err(Gap::NotInFeed)]);
    assert_eq!(
        gust_at(&run, &venue(&HERE), 1.0)
            .expect("known")
            .notes
            .estimated_gust,
        Some(1.25)
    );
    let run = Run::new("gfs", 2, 2, 1, &[0, 3])
        .wind(20.0, 119.0)
        .by_step(Parameter::Gust, &[Err(Gap::NotThere), Err(Gap::NotThere)]);
    assert_eq!(gap(&gust_at(&run, &venue(&HERE), 1.0)), Gap::NotThere);
}

#[test]
fn a_gust_below_the_mean_is_raised_to_it() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 3])
        .wind(16.0, 90.0)
        .constant(Parameter::Gust, 15.0 * MS);
    let gust = gust_at(&run, &venue(&HERE), 1.0).expect("known");
    near(gust.value.0, 16.0);
    assert!(gust.notes.gust_raised_to_mean);
}

#[test]
fn a_gust_is_known_while_the_mean_is_missing() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 3])
        .by_step(Parameter::WindU, &[Err(Gap::Damaged), Err(Gap::Damaged)])
        .constant(Parameter::WindV, 0.0)
        .constant(Parameter::Gust, 40.0 * MS);
    let hour = hour(&venue(&HERE), &[&run], 1.0);
    assert_eq!(gap(&hour.wind), Gap::Damaged);
    near(hour.gust.expect("known").value.0, 40.0);
}

#[test]
fn an_estimated_gust_is_missing_with_the_mean() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 3])
        .by_step(Parameter::WindU, &[Err(Gap::Damaged), Err(Gap::Damaged)])
        .constant(Parameter::WindV, 0.0);
    assert_eq!(gap(&hour(&venue(&HERE), &[&run], 1.0).gust), Gap::Damaged);
}

#[test]
fn shelter_lowers_the_mean_and_never_a_gust() {
    // Sector 300 to 60 through north, factor 0.85: 20 x 0.85 = 17 kn, the gust stays 28 kn.
    let run = |from| {
        Run::new("gfs", 2, 2, 1, &[0, 3])
            .wind(20.0, from)
            .constant(Parameter::Gust, 28.0 * MS)
    };
    let mut venue = venue(&HERE);
    venue.wind_sectors.push(sector(300.0, 60.0, 0.85));
    for from in [301.0, 350.0, 0.0, 59.0] {
        let hour = hour(&venue, &[&run(from)], 1.0);
        let wind = hour.wind.expect("known");
        near(wind.value.speed.0, 17.0);
        assert_eq!(wind.notes.sector_factor, Some(0.85));
        let gust = hour.gust.expect("known");
        near(gust.value.0, 28.0);
        assert_eq!(gust.notes.sector_factor, None);
    }
    for from in [61.0, 180.0, 299.0] {
        let wind = hour(&venue, &[&run(from)], 1.0).wind.expect("known");
        near(wind.value.speed.0, 20.0);
        assert_eq!(wind.notes.sector_factor, None);
    }
}

#[test]
fn a_sector_holds_its_own_bounds_and_the_larger_of_two_counts() {
    let mut venue = venue(&HERE);
    venue.wind_sectors.push(sector(300.0, 60.0, 0.85));
    venue.wind_sectors.push(sector(50.0, 90.0, 1.1));
    let factor = |from| crate::corrections::sector_factor(&venue, seaway::DirectionFrom::new(from));
    let table = [
        (299.9, None),
        (300.0, Some(0.85)),
        (0.0, Some(0.85)),
        (55.0, Some(1.1)),
        (60.0, Some(1.1)),
        (90.1, None),
    ];
    for (from, expected) in table {
        assert_eq!(factor(from), expected, "{from} degrees");
    }
}

#[test]
fn shelter_does_not_lower_an_estimated_gust_either() {
    // 20 x 0.85 = 17 kn, the gust is 20 x 1.25 = 25 kn and not 17 x 1.25.
    let mut venue = venue(&HERE);
    venue.wind_sectors.push(sector(0.0, 180.0, 0.85));
    let run = Run::new("gfs", 2, 2, 1, &[0, 3]).wind(20.0, 90.0);
    near(gust_at(&run, &venue, 1.0).expect("known").value.0, 25.0);
}

#[test]
fn a_factor_above_one_raises_mean_and_gust_once() {
    // 20 x 1.2 = 24 kn, 28 x 1.2 = 33.6 kn; estimated 20 x 1.25 x 1.2 = 30 kn.
    let mut venue = venue(&HERE);
    venue.wind_sectors.push(sector(0.0, 180.0, 1.2));
    let run = Run::new("gfs", 2, 2, 1, &[0, 3]).wind(20.0, 90.0);
    near(gust_at(&run, &venue, 1.0).expect("known").value.0, 30.0);
    let run = run.constant(Parameter::Gust, 28.0 * MS);
    let hour = hour(&venue, &[&run], 1.0);
    near(hour.wind.expect("known").value.speed.0, 24.0);
    let gust = hour.gust.expect("known");
    near(gust.value.0, 33.6);
    assert_eq!(gust.notes.sector_factor, Some(1.2));
}

#[test]
fn a_members_gap_is_its_own() {
    // Member 1 lacks the step at 3 h.
    let run =
        Run::new("gefs", 2, 2, 3, &[0, 3, 6])
            .wind(10.0, 90.0)
            .field(Parameter::Gust, |_, member, step| {
                if (member, step) == (1, 1) {
                    Err(Gap::NotThere)
                } else {
                    kn(14.0)
                }
            });
    let deterministic = Run::new("gfs", 2, 2, 1, &[0, 3, 6])
        .wind(10.0, 90.0)
        .constant(Parameter::Gust, 14.0 * MS);
    let conditions = assemble(&venue(&HERE), &[&run, &deterministic]);
    let set = conditions.ensemble().expect("an ensemble");
    for hours in 0..=6 {
        let time = at_h(0.0) + TimeDelta::hours(hours);
        for member in [0, 2] {
            assert!(set.at(Member(member), time).gust.is_ok());
        }
        let expected = (1..6).contains(&hours);
        assert_eq!(set.at(Member(1), time).gust.is_err(), expected, "{hours} h");
    }
}

/// Rows B-gusts-01, B-gusts-02 (WMO/TD-No. 1555, Table 1.1, looked up) and B-gusts-06 (a handbook's rule of thumb, common
/// practice): the factors that a new club starts with lie within the published ones.
#[test]
fn the_default_gust_factors_lie_within_the_published_ones() {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../fixtures/reference/b_gusts.csv"
    );
    let mut reader = csv::Reader::from_path(path).expect("the bundled check values");
    let defaults = club::Policy::default();
    let mut checked = Vec::new();
    for row in reader.deserialize::<std::collections::HashMap<String, String>>() {
        let row = row.expect("a row");
        let factor = match (
            row["quantity"].as_str(),
            row["exposure"].as_str(),
            row["tref_s"].as_str(),
        ) {
            ("gust_factor_3s", "off-land", "600") => defaults.gust_factor_land,
            ("gust_factor_3s", "at-sea", "600") => defaults.gust_factor_sea,
            ("gust_allowance_rule_of_thumb", ..) => defaults.gust_factor_sea,
            _ => continue,
        };
        let (expected, tolerance): (f64, f64) = (
            row["expected"].parse().expect("a number"),
            row["tolerance"].parse().expect("a number"),
        );
        let (id, source, provenance) = (&row["id"], &row["source"], &row["provenance"]);
        assert!(
            (factor - expected).abs() <= tolerance,
            "{id}: {factor}, expected {expected}; {source} [{provenance}]"
        );
        checked.push(row["id"].clone());
    }
    assert_eq!(checked, ["B-gusts-01", "B-gusts-02", "B-gusts-06"]);
}
