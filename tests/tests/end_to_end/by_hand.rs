//! The session of fixtures/hand/member-seven.md, worked by hand from the generator's expected values before the rules existed.

use advisory::document::CallWord;
use cringle_tests::{GEFS_00, Scene, time};

fn scene() -> Scene {
    let scene = Scene::by_hand();
    scene.remove(&format!("{GEFS_00}/gep07.t00z.pgrb2s.0p25.f039"));
    scene.remove(&format!("{GEFS_00}/gep07.t00z.pgrb2s.0p25.f039.idx"));
    scene
}

#[test]
fn member_seven_is_set_aside_and_eight_of_thirty_are_no_go() {
    let advisory = scene().advisory("tuesday");
    let sure = &advisory.sureness;
    assert_eq!(
        (sure.members_expected, sure.members, sure.set_aside.as_slice()),
        (31, 30, [7].as_slice())
    );
    assert_eq!((sure.no_go, sure.no_go + sure.marginal), (8, 21));
    assert_eq!(sure.counted_no_go, Some(0.2667));
    assert_eq!(sure.counted_marginal_or_worse, Some(0.7));
    assert_eq!(advisory.call, CallWord::Marginal);
    assert_eq!(sure.deterministic_call, Some(CallWord::Marginal));
}

#[test]
fn the_floors_of_spread_give_the_probabilities_worked_by_hand() {
    let sure = scene().advisory("tuesday").sureness;
    // 194 of 630 by hand from unpacked values; packing (0.02 kn) may move a few looks over an edge.
    let p_no_go = sure.p_no_go.unwrap_or(f64::NAN);
    assert!((p_no_go - 194.0 / 630.0).abs() <= 4.0 / 630.0, "{p_no_go}");
    // 427 of 630 are fewer than 21 of 30: the floors never make an ensemble kinder.
    assert_eq!(sure.p_marginal_or_worse, Some(0.7));
}

#[test]
fn reasons_name_value_limit_hour_member_and_run_worst_first() {
    let reasons = scene().advisory("tuesday").reasons;
    // (quantity, value by hand, first hour of it, caution, stop)
    let by_hand = [
        ("gust_kn", 26.973, "2030-05-14T16:00:00Z", 19.5, 22.5),
        ("mean_kn", 20.616, "2030-05-14T18:00:00Z", 15.0, 17.5),
    ];
    assert_eq!(reasons.len(), by_hand.len(), "{reasons:?}");
    for (reason, (quantity, value, at, caution, stop)) in reasons.iter().zip(by_hand) {
        assert_eq!(reason.quantity, quantity);
        assert!(
            (reason.value - value).abs() <= 0.02,
            "{quantity}: {} by hand {value}",
            reason.value
        );
        assert_eq!((reason.caution_at, reason.stop_at), (caution, stop));
        assert!((reason.margin - (stop - value)).abs() <= 0.02);
        assert_eq!(reason.at, time(at));
        assert_eq!(
            (reason.source.as_deref(), reason.run),
            (Some("gefs"), Some(time("2030-05-13T00:00:00Z").to_utc()))
        );
        assert_eq!(reason.member, Some(26));
    }
}

#[test]
fn each_quantity_names_its_source_and_run_and_the_gap_its_reason() {
    let advisory = scene().advisory("tuesday");
    let run_of = |used_for: &str, source: &str| {
        let found = advisory
            .sources
            .iter()
            .find(|used| used.used_for == used_for && used.source == source);
        found.and_then(|used| used.run)
    };
    assert_eq!(
        run_of("wind and gust", "gefs"),
        Some(time("2030-05-13T00:00:00Z"))
    );
    assert_eq!(run_of("single run", "gfs"), Some(time("2030-05-13T06:00:00Z")));
    assert_eq!(run_of("sea", "gfs-wave"), Some(time("2030-05-13T06:00:00Z")));
    let gap = advisory
        .missing
        .iter()
        .find(|missing| missing.quantity == "mean_kn")
        .expect("the gap is told");
    assert_eq!(
        (gap.reason.as_str(), gap.source.as_deref(), gap.members.as_slice()),
        ("not-there", Some("gefs"), [7].as_slice())
    );
    assert_eq!(
        (gap.span.from, gap.span.to),
        (
            time("2030-05-14T13:00:00Z").into(),
            time("2030-05-14T17:00:00Z").into()
        )
    );
}

#[test]
fn the_sea_of_the_hours_is_the_wave_models() {
    let advisory = scene().advisory("tuesday");
    let wave = |at: &str| {
        advisory
            .hours
            .iter()
            .find(|hour| hour.at == time(at))
            .and_then(|hour| hour.wave_m)
    };
    // By hand 1.497 m; packed to hundredths.
    assert!(wave("2030-05-14T18:00:00Z").is_some_and(|wave| (wave - 1.497).abs() <= 0.01));
    assert!(wave("2030-05-14T19:00:00Z").is_some_and(|wave| (wave - 1.529).abs() <= 0.01));
}
