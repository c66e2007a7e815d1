//! Rain: rates from accumulations by the messages' own intervals.

use super::support::*;
use forecast::{Gap, Parameter, Process, Sample};

const HERE: [(f64, f64); 1] = [(40.5, -9.5)];

fn rain(run: &Run, hours: f64) -> crate::Known<f64> {
    hour(&venue(&HERE), &[run], hours).rain_mm_per_h
}

fn bucket(steps: &[u16], values: &[Sample], start: impl Fn(u16) -> u16) -> Run {
    Run::new("gfs", 2, 2, 1, steps)
        .wind(10.0, 90.0)
        .by_step(Parameter::Precipitation, values)
        .intervals(Parameter::Precipitation, Process::Accumulation, |step| {
            (step > 0).then(|| (start(step), step))
        })
}

/// NOAA's bucket: it restarts every 6 h.
fn six_hour_start(step: u16) -> u16 {
    (step - 1) / 6 * 6
}

#[test]
fn a_bucket_that_restarts_gives_hourly_rates() {
    let values = [
        Err(Gap::NotInFeed),
        Ok(1.0),
        Ok(3.0),
        Ok(3.0),
        Ok(3.5),
        Ok(4.5),
        Ok(10.5),
        Ok(2.0),
    ];
    let run = bucket(&[0, 1, 2, 3, 4, 5, 6, 7], &values, six_hour_start);
    // 0-1 h: 1 mm; 1-2: 3 - 1 = 2; 2-3: 0; 3-4: 0.5; 4-5: 1; 5-6: 6; then a new bucket: 6-7: 2 over its own hour.
    let table = [
        (0.0, 1.0),
        (0.5, 1.0),
        (1.5, 2.0),
        (2.5, 0.0),
        (3.5, 0.5),
        (4.5, 1.0),
        (5.5, 6.0),
        (6.5, 2.0),
    ];
    for (hours, expected) in table {
        near(rain(&run, hours).expect("known").value, expected);
    }
    // On a boundary the larger counts.
    near(rain(&run, 2.0).expect("known").value, 2.0);
    near(rain(&run, 6.0).expect("known").value, 6.0);
    near(rain(&run, 7.0).expect("known").value, 2.0);
    assert_eq!(gap(&rain(&run, 7.5)), Gap::BeyondRun);
}

#[test]
fn a_run_total_gives_rates_over_three_hours() {
    // 0-3 h: 6 mm, 2 mm/h; 3-6 h: 15 - 6 = 9 mm, 3 mm/h.
    let run = bucket(&[0, 3, 6], &[Err(Gap::NotInFeed), Ok(6.0), Ok(15.0)], |_| 0);
    near(rain(&run, 1.0).expect("known").value, 2.0);
    near(rain(&run, 5.0).expect("known").value, 3.0);
}

#[test]
fn a_tiny_fall_is_packing_noise_a_large_one_is_damage() {
    let run = bucket(&[0, 1, 2], &[Err(Gap::NotInFeed), Ok(3.0), Ok(2.95)], |_| 0);
    near(rain(&run, 1.5).expect("known").value, 0.0);
    let run = bucket(&[0, 1, 2], &[Err(Gap::NotInFeed), Ok(3.0), Ok(1.0)], |_| 0);
    assert_eq!(gap(&rain(&run, 1.5)), Gap::Damaged);
}

#[test]
fn a_missing_accumulation_makes_both_its_hours_missing() {
    // The mean over 0-3 h (9 mm in 3 h) would hide that all of it may have fallen in one of them.
    let values = [Err(Gap::NotInFeed), Ok(0.0), Err(Gap::Damaged), Ok(9.0), Ok(9.0)];
    let run = bucket(&[0, 1, 2, 3, 4], &values, six_hour_start);
    near(rain(&run, 0.5).expect("known").value, 0.0);
    for hours in [1.5, 2.5, 3.0] {
        assert_eq!(gap(&rain(&run, hours)), Gap::Damaged, "{hours} h");
    }
    near(rain(&run, 3.5).expect("known").value, 0.0);
    // The same where the record of the lost message keeps no interval.
    let run = run.intervals(Parameter::Precipitation, Process::Accumulation, |step| {
        (step > 0 && step != 2).then(|| (six_hour_start(step), step))
    });
    for hours in [1.5, 2.5] {
        assert_eq!(gap(&rain(&run, hours)), Gap::Damaged, "{hours} h");
    }
}

#[test]
fn an_accumulation_without_an_interval_is_no_rate() {
    let run = Run::new("gfs", 2, 2, 1, &[0, 1])
        .wind(10.0, 90.0)
        .constant(Parameter::Precipitation, 2.0);
    assert_eq!(gap(&rain(&run, 0.5)), Gap::NotInFeed);
}
