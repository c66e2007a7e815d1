//! A hole gives no call where it matters, a broken limit still gives no-go, and nothing missing ever gives go.

use advisory::document::{Advisory, CallWord};
use cringle_tests::{GEFS_00, GFS_00, GFS_06, Scene};

/// A level that is far from every limit on Tuesday, and past the wind's and the sea's on Wednesday.
pub const CLUB: &str = r#"
[club]
name = "Hole School"
slug = "holes"
time_zone = "Atlantic/Madeira"
[[venues]]
id = "node"
name = "The node"
points = [{ lat = 43.5, lon = -15.5 }]
[[boats]]
id = "plain"
name = "Plain"
reef_table = [
  { mean_up_to_kn = 20, gust_up_to_kn = 26, reefs = 1, headsail = 0.75 },
  { mean_up_to_kn = 50, gust_up_to_kn = 60, reefs = 3, headsail = 0.3 },
]
[[levels]]
id = "wide"
name = "Wide"
accumulate = false
[levels.limits]
mean_kn = { caution_at = 30, stop_at = 40 }
gust_kn = { caution_at = 40, stop_at = 50 }
wave_m = { caution_at = 3.5, stop_at = 4.0 }
steepness = { caution_at = 0.06, stop_at = 0.08 }
visibility_m = { caution_at = 3000, stop_at = 1000 }
wind_chill_c = { caution_at = 4, stop_at = 0 }
water_c = { caution_at = 10, stop_at = 6 }
[[levels]]
id = "narrow"
name = "Narrow"
[levels.limits]
mean_kn = { caution_at = 14, stop_at = 17 }
gust_kn = { caution_at = 18, stop_at = 24 }
wave_m = { caution_at = 1.6, stop_at = 2.0 }
[[sessions]]
id = "tuesday"
venue = "node"
boat = "plain"
level = "wide"
starts = "2030-05-14T10:00"
ends = "14:00"
[[sessions]]
id = "wednesday"
venue = "node"
boat = "plain"
level = "narrow"
starts = "2030-05-15T10:00"
ends = "14:00"
"#;

fn both(scene: &Scene) -> (Advisory, Advisory) {
    (scene.advisory("tuesday"), scene.advisory("wednesday"))
}

#[test]
fn with_everything_there_tuesday_is_a_go_and_wednesday_a_no_go() {
    let (tuesday, wednesday) = both(&Scene::new(CLUB));
    assert_eq!(
        tuesday.call,
        CallWord::Go,
        "{:?} {:?}",
        tuesday.reasons,
        tuesday.missing
    );
    assert_eq!(wednesday.call, CallWord::NoGo);
}

/// Damages a field of every run of a source: whichever run is taken, the value is not there.
fn with_damage(folders: &[&str], field: &str) -> Scene {
    let scene = Scene::new(CLUB);
    for folder in folders {
        assert!(scene.damage(folder, field) > 0, "{field} is in {folder}");
    }
    scene
}

#[test]
fn each_damaged_field_makes_no_call_where_it_is_limited_and_hides_no_broken_limit() {
    let gfs = ["noaa-gfs/gfs.20300513/00/atmos", "noaa-gfs/gfs.20300513/06/atmos"];
    let wave = ["noaa-gfs/gfs.20300513/00/wave", "noaa-gfs/gfs.20300513/06/wave"];
    let gefs = [GEFS_00];
    // What is damaged, and the quantity that is then said to be missing.
    let table: [(&[&str], &str, &str); 7] = [
        (&gefs, ":GUST:surface:", "gust_kn"),
        (&gefs, ":UGRD:10 m above ground:", "mean_kn"),
        (&gfs, ":VIS:surface:", "visibility_m"),
        (&gfs, ":TMP:2 m above ground:", "wind_chill_c"),
        (&gfs, ":TMP:surface:", "water_c"),
        (&wave, ":HTSGW:surface:", "wave_m"),
        (&wave, ":PERPW:surface:", "steepness"),
    ];
    for (folders, field, quantity) in table {
        let scene = with_damage(folders, field);
        let (tuesday, wednesday) = both(&scene);
        // Ensemble members without wind or gust leave the single run to carry the call, and it says so.
        if folders == gefs {
            assert_eq!(tuesday.sureness.members, 0, "{field}");
            assert_eq!(tuesday.sureness.set_aside.len(), 31, "{field}");
        } else {
            assert_eq!(tuesday.call, CallWord::NoCall, "{field}: {:?}", tuesday.summary);
        }
        let told = tuesday
            .missing
            .iter()
            .find(|missing| missing.quantity == quantity);
        let told = told.unwrap_or_else(|| panic!("{field}: {quantity} is told: {:?}", tuesday.missing));
        assert_eq!(told.reason, "damaged", "{field}");
        if field == ":UGRD:10 m above ground:" || field == ":HTSGW:surface:" || field == ":GUST:surface:" {
            assert_eq!(
                wednesday.call,
                CallWord::NoGo,
                "{field}: another limit is broken all the same"
            );
        }
    }
}

#[test]
fn damaged_wind_in_every_source_makes_no_call_and_never_an_estimate() {
    let scene = with_damage(
        &[
            GEFS_00,
            "noaa-gfs/gfs.20300513/00/atmos",
            "noaa-gfs/gfs.20300513/06/atmos",
        ],
        ":GUST:surface:",
    );
    let (tuesday, wednesday) = both(&scene);
    assert_eq!(tuesday.call, CallWord::NoCall);
    assert!(
        tuesday
            .hours
            .iter()
            .all(|hour| hour.gust_kn.is_none() && !hour.gust_estimated)
    );
    assert_eq!(
        wednesday.call,
        CallWord::NoGo,
        "the mean and the sea are past their stops all the same"
    );
}

#[test]
fn absent_waves_make_no_call() {
    let scene = Scene::new(CLUB);
    scene.remove_folder(&format!("{GFS_00}/wave"));
    scene.remove_folder(&format!("{GFS_06}/wave"));
    let (tuesday, wednesday) = both(&scene);
    assert_eq!(tuesday.call, CallWord::NoCall);
    assert_eq!(
        tuesday
            .missing
            .iter()
            .find(|m| m.quantity == "wave_m")
            .map(|m| m.reason.as_str()),
        Some("no-run")
    );
    assert_eq!(wednesday.call, CallWord::NoGo);
}

#[test]
fn runs_that_are_too_old_make_no_call() {
    let mut scene = Scene::new(CLUB);
    // On Tuesday 04:00 UTC the GEFS run is 28 h old and the newest GFS 22 h: over 16 h for a session within 48 h.
    scene.now = "2030-05-14T04:00:00Z".to_owned();
    let (tuesday, wednesday) = both(&scene);
    assert_eq!(
        (tuesday.call, wednesday.call),
        (CallWord::NoCall, CallWord::NoCall)
    );
    assert!(
        tuesday
            .missing
            .iter()
            .all(|missing| missing.reason == "run-too-old"),
        "{:?}",
        tuesday.missing
    );
}

#[test]
fn without_any_feed_there_is_no_call_and_the_board_still_comes() {
    let scene = Scene::new(CLUB);
    scene.remove_folder("noaa-gfs");
    scene.remove_folder("noaa-gefs");
    let (tuesday, wednesday) = both(&scene);
    assert_eq!(
        (tuesday.call, wednesday.call),
        (CallWord::NoCall, CallWord::NoCall)
    );
    let board = scene.printed(&["advise"]);
    assert!(board.contains("No call"), "{board}");
}

#[test]
fn a_session_beyond_the_run_is_no_call() {
    let club = CLUB.replace("2030-05-14T10:00", "2030-05-18T10:00");
    let tuesday = Scene::new(&club).advisory("tuesday");
    assert_eq!(tuesday.call, CallWord::NoCall);
    assert!(
        tuesday
            .missing
            .iter()
            .any(|missing| missing.reason == "beyond-run"),
        "{:?}",
        tuesday.missing
    );
}

#[test]
fn an_ensemble_that_is_not_there_leaves_the_single_run_with_the_floors_spread() {
    let scene = Scene::new(CLUB);
    scene.remove_folder("noaa-gefs");
    let (tuesday, wednesday) = both(&scene);
    assert_eq!(tuesday.call, CallWord::Go);
    assert_eq!(tuesday.sureness.members_expected, 0);
    assert!(
        tuesday
            .hours
            .iter()
            .filter(|hour| hour.out)
            .all(|hour| hour.spread_from_floor)
    );
    assert_eq!(wednesday.call, CallWord::NoGo);
}
