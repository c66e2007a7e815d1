//! Space: bilinear over the nodes of the right kind.

use super::support::*;
use forecast::{Gap, Parameter, Sample};

/// 10 kn from west grows by 4 kn a degree east and 2 kn a degree north: u = 10 + 4 column + 2 row knots.
fn sloping(source: &str) -> Run {
    Run::new(source, 4, 4, 1, &[0, 3])
        .field(Parameter::WindU, |(row, column), _, _| {
            Ok(((10.0 + 4.0 * f64::from(column) + 2.0 * f64::from(row)) * MS) as f32)
        })
        .constant(Parameter::WindV, 0.0)
}

fn land_at(run: Run, dry: &'static [(u32, u32)]) -> Run {
    run.field(Parameter::LandShare, |place, _, _| {
        Ok(if dry.contains(&place) { 1.0 } else { 0.0 })
    })
}

#[test]
fn four_water_corners_are_plain_bilinear() {
    // 41.25 N, 8.5 W is row 1.25, column 1.5: 10 + 4 x 1.5 + 2 x 1.25 = 18.5 kn.
    let hour = hour(&venue(&[(41.25, -8.5)]), &[&land_at(sloping("gfs"), &[])], 0.0);
    let wind = hour.wind.expect("known");
    near(wind.value.speed.0, 18.5);
    near(wind.value.from.degrees(), 270.0);
    assert!(!wind.notes.no_land_mask && wind.notes.offshore.is_none());
}

#[test]
fn a_point_on_a_node_uses_that_node_alone() {
    // Row 1, column 2: 10 + 8 + 2 = 20 kn. The node beside it is missing and does not matter.
    let run = land_at(sloping("gfs"), &[]);
    let run = replace(run, Parameter::WindU, (1, 1), Err(Gap::Damaged));
    near(
        hour(&venue(&[(41.0, -8.0)]), &[&run], 0.0)
            .wind
            .expect("known")
            .value
            .speed
            .0,
        20.0,
    );
}

fn replace(mut run: Run, parameter: Parameter, place: (u32, u32), sample: Sample) -> Run {
    for series in run
        .slice
        .nodes
        .iter_mut()
        .filter(|s| (s.node.row, s.node.column) == place)
    {
        for field in series
            .fields
            .iter_mut()
            .filter(|field| field.parameter == parameter)
        {
            field.samples.fill(sample);
        }
    }
    run
}

#[test]
fn land_corners_give_their_weight_to_the_water_corners() {
    // Cell rows 1-2, columns 1-2 at its middle, each corner a quarter. Corners: (1,1) 16, (1,2) 20, (2,1) 18, (2,2) 22 kn.
    // (2,2) is land: (16 + 20 + 18) / 3 = 18 kn.
    let run = land_at(sloping("gfs"), &[(2, 2)]);
    let wind = hour(&venue(&[(41.5, -8.5)]), &[&run], 0.0).wind.expect("known");
    near(wind.value.speed.0, 18.0);
    assert_eq!(wind.notes.offshore, None);
}

#[test]
fn without_water_corners_the_windiest_water_node_of_the_block_counts_with_its_distance() {
    // The cell is all land; the windiest node of the four by four block is (3,3): 10 + 12 + 6 = 28 kn, at 43 N 7 W.
    let run = land_at(sloping("gfs"), &[(1, 1), (1, 2), (2, 1), (2, 2)]);
    let wind = hour(&venue(&[(41.5, -8.5)]), &[&run], 0.0).wind.expect("known");
    near(wind.value.speed.0, 28.0);
    // 1.5 degrees of latitude are 90.06 nm on the mean sphere (60.04 nm a degree); 1.5 degrees of longitude at 42.25 N
    // are 90.06 x cos 42.25 = 66.7 nm; together about 112.0 nm.
    let offshore = wind.notes.offshore.expect("a distance").0;
    assert!((offshore - 112.0).abs() < 0.5, "found {offshore} nm");
}

#[test]
fn no_water_at_all_is_missing() {
    let run = sloping("gfs").constant(Parameter::LandShare, 1.0);
    assert_eq!(
        gap(&hour(&venue(&[(41.5, -8.5)]), &[&run], 0.0).wind),
        Gap::NoWater
    );
}

#[test]
fn without_a_land_mask_all_nodes_are_water_and_it_is_said() {
    let wind = hour(&venue(&[(41.5, -8.5)]), &[&sloping("gfs")], 0.0)
        .wind
        .expect("known");
    // (16 + 20 + 18 + 22) / 4 = 19 kn.
    near(wind.value.speed.0, 19.0);
    assert!(wind.notes.no_land_mask);
}

#[test]
fn another_runs_land_mask_serves_nodes_at_the_same_place() {
    let ensemble = Run::new("gefs", 4, 4, 2, &[0, 3]).wind(10.0, 270.0);
    let ensemble = replace(ensemble, Parameter::WindU, (2, 2), Ok((40.0 * MS) as f32));
    let run = land_at(sloping("gfs"), &[(2, 2)]);
    let wind = hour(&venue(&[(41.5, -8.5)]), &[&ensemble, &run], 0.0)
        .wind
        .expect("known");
    assert_eq!(wind.source.as_str(), "gefs");
    // 40 kn at the land corner is left out: 10 kn.
    near(wind.value.speed.0, 10.0);
    assert!(!wind.notes.no_land_mask);
}

#[test]
fn a_water_corner_that_is_missing_makes_the_value_missing() {
    for parameter in [Parameter::WindU, Parameter::WindV] {
        let run = replace(land_at(sloping("gfs"), &[]), parameter, (1, 1), Err(Gap::Damaged));
        assert_eq!(
            gap(&hour(&venue(&[(41.5, -8.5)]), &[&run], 0.0).wind),
            Gap::Damaged,
            "{parameter}"
        );
    }
    // On a land corner it does not matter.
    let run = replace(
        land_at(sloping("gfs"), &[(2, 2)]),
        Parameter::WindU,
        (2, 2),
        Err(Gap::Damaged),
    );
    near(
        hour(&venue(&[(41.5, -8.5)]), &[&run], 0.0)
            .wind
            .expect("known")
            .value
            .speed
            .0,
        18.0,
    );
}

#[test]
fn a_value_that_is_no_number_is_damaged() {
    let run = replace(sloping("gfs"), Parameter::WindU, (1, 1), Ok(f32::NAN));
    assert_eq!(
        gap(&hour(&venue(&[(41.5, -8.5)]), &[&run], 0.0).wind),
        Gap::Damaged
    );
}

#[test]
fn outside_the_grid_is_missing_and_never_the_edge() {
    for place in [(39.9, -8.5), (43.1, -8.5), (41.5, -10.1), (41.5, -6.9)] {
        assert_eq!(
            gap(&hour(&venue(&[place]), &[&sloping("gfs")], 0.0).wind),
            Gap::OutsideGrid,
            "{place:?}"
        );
    }
}

#[test]
fn two_blocks_far_apart_do_not_make_a_cell_between_them() {
    // Rows 0-1 and 8-9 are kept; a point at row 4.5 lies in no cell.
    let mut run = Run::new("gfs", 10, 2, 1, &[0, 3]).wind(12.0, 0.0);
    run.slice
        .nodes
        .retain(|series| series.node.row < 2 || series.node.row > 7);
    assert_eq!(
        gap(&hour(&venue(&[(44.5, -9.5)]), &[&run], 0.0).wind),
        Gap::OutsideGrid
    );
    near(
        hour(&venue(&[(48.5, -9.5)]), &[&run], 0.0)
            .wind
            .expect("known")
            .value
            .speed
            .0,
        12.0,
    );
}

#[test]
fn a_cell_across_the_date_line_is_a_cell() {
    let mut run = Run::new("gfs", 2, 2, 1, &[0, 3]).field(Parameter::WindU, |(_, column), _, _| {
        Ok(((10.0 + 4.0 * f64::from(column)) * MS) as f32)
    });
    run = run.constant(Parameter::WindV, 0.0);
    for series in &mut run.slice.nodes {
        let lon = if series.node.column == 0 { 179.5 } else { 180.5 };
        series.node.at = place(series.node.at.lat, lon);
    }
    // A quarter of the way from 179.5 E to 179.5 W: 10 + 0.25 x 4 = 11 kn.
    near(
        hour(&venue(&[(40.5, 179.75)]), &[&run], 0.0)
            .wind
            .expect("known")
            .value
            .speed
            .0,
        11.0,
    );
}

/// Waves of 1 + column + row / 2 metres, masked where `dry` says so.
fn waves(dry: &'static [(u32, u32)]) -> Run {
    let masked = move |place: (u32, u32), value: f64| {
        if dry.contains(&place) {
            Err(Gap::Masked)
        } else {
            Ok(value as f32)
        }
    };
    Run::new("gfs-wave", 4, 4, 1, &[0, 3])
        .field(Parameter::WaveHeight, move |p, _, _| {
            masked(p, 1.0 + f64::from(p.1) + f64::from(p.0) / 2.0)
        })
        .field(Parameter::WavePeriod, move |p, _, _| {
            masked(p, 6.0 + f64::from(p.1))
        })
        .field(Parameter::WaveDirection, move |p, _, _| {
            masked(p, if p.1 <= 1 { 350.0 } else { 10.0 })
        })
}

#[test]
fn masked_wave_nodes_are_land_and_directions_go_through_north() {
    // Corners (1,1) 2.5, (1,2) 3.5, (2,1) 3.0 m, (2,2) masked: 3.0 m; periods 7, 8, 7: 7.333 s.
    let hour = hour(&venue(&[(41.5, -8.5)]), &[&waves(&[(2, 2)])], 0.0);
    near(hour.wave_height.expect("known").value.0, 3.0);
    near(hour.wave_period.expect("known").value.0, 22.0 / 3.0);
    // Unit vectors of 350, 10, 350: east -sin 10 / 3, north cos 10: 360 - atan(tan 10 / 3) = 356.636, never 237.
    near(hour.wave_from.expect("known").value.degrees(), 356.636);
}

#[test]
fn where_the_cell_is_land_the_highest_wave_node_counts() {
    // The highest of the block is (3,3): 1 + 3 + 1.5 = 5.5 m.
    let hour = hour(
        &venue(&[(41.5, -8.5)]),
        &[&waves(&[(1, 1), (1, 2), (2, 1), (2, 2)])],
        0.0,
    );
    let height = hour.wave_height.expect("known");
    near(height.value.0, 5.5);
    assert!(
        height
            .notes
            .offshore
            .is_some_and(|offshore| (offshore.0 - 112.0).abs() < 0.5)
    );
}

#[test]
fn a_damaged_wave_message_is_not_land() {
    let run = waves(&[]).slice;
    let mut run = Run { slice: run };
    run = replace(run, Parameter::WaveHeight, (1, 1), Err(Gap::Damaged));
    assert_eq!(
        gap(&hour(&venue(&[(41.5, -8.5)]), &[&run], 0.0).wave_height),
        Gap::Damaged
    );
}

#[test]
fn the_sea_temperature_comes_from_water_nodes() {
    // Land corners are 20 K warmer; the water ones are 285.15 K, 12 degrees.
    let run = land_at(
        Run::new("gfs", 4, 4, 1, &[0, 3]).wind(8.0, 180.0),
        &[(1, 2), (2, 2)],
    )
    .field(Parameter::SurfaceTemperature, |(_, column), _, _| {
        Ok(if column == 2 { 305.15 } else { 285.15 })
    });
    near(
        hour(&venue(&[(41.5, -8.5)]), &[&run], 0.0)
            .water
            .expect("known")
            .value
            .0,
        12.0,
    );
}

#[test]
fn of_several_points_the_windiest_and_the_roughest_count() {
    let venue = venue(&[(40.5, -9.5), (42.5, -7.5)]);
    let hour = hour(&venue, &[&sloping("gfs"), &waves(&[])], 0.0);
    // Rows and columns 0.5 and 2.5: 10 + 2 + 1 = 13 kn and 10 + 10 + 5 = 25 kn; 1.75 m and 4.75 m; 6.5 s and 8.5 s.
    near(hour.wind.expect("known").value.speed.0, 25.0);
    near(hour.wave_height.expect("known").value.0, 4.75);
    near(hour.wave_period.expect("known").value.0, 8.5);
}

#[test]
fn while_one_point_is_missing_the_worst_cannot_be_told() {
    for points in [[(40.5, -9.5), (52.5, -7.5)], [(52.5, -7.5), (40.5, -9.5)]] {
        let wind = hour(&venue(&points), &[&sloping("gfs")], 0.0).wind;
        assert_eq!(gap(&wind), Gap::OutsideGrid);
        // 10 + 2 + 1 = 13 kn at the other point, as above: it may show a broken limit.
        near(wind.unwrap_err().elsewhere.expect("the other point"), 13.0);
    }
    let nowhere = hour(&venue(&[(52.5, -7.5)]), &[&sloping("gfs")], 0.0).wind;
    assert_eq!(nowhere.unwrap_err().elsewhere, None);
}
