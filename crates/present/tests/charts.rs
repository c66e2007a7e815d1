//! The drawings, sentence by sentence of the design text (look): what stands in them and in their description.
//!
//! Drawings are read as text; that they look right is seen on the page. No source unless named.

#![expect(clippy::unwrap_used, reason = "helpers of tests fail by panicking")]

mod sample;

use advisory::Advisory;
use chrono::{FixedOffset, TimeDelta};
use present::{Breadth, ladder, sea};
use sample::{GO, LIGHT, MARGINAL, NO_CALL, NO_GO, advisory, entrance, hostile, later, leg, lesson, now};

const SHEET: Breadth = Breadth::Sheet(0);

fn with_entrance() -> Advisory {
    let mut one = advisory(MARGINAL);
    one.entrance = Some(entrance(&one, "the Gut"));
    one
}

fn words_of(drawing: &str) -> &str {
    drawing
        .split_once("<desc")
        .unwrap()
        .1
        .split_once("</desc>")
        .unwrap()
        .0
}

#[test]
fn the_entrances_two_passages_stand_on_the_ladder_with_piers_hours_and_words() {
    let one = with_entrance();
    for breadth in Breadth::ALL.into_iter().chain([SHEET]) {
        let drawing = ladder(&one, now(), breadth).unwrap();
        assert_eq!(drawing.matches("class=\"pass\"").count(), 2, "{breadth:?}");
        assert_eq!(drawing.matches("class=\"pier\"").count(), 2, "{breadth:?}");
        assert!(words_of(&drawing).contains("Passing the Gut: out at 09:50, in at 16:40."));
    }
    let wide = ladder(&one, now(), Breadth::Wide).unwrap();
    assert!(wide.contains(">the Gut out 09:50</text>") && wide.contains(">the Gut in 16:40</text>"));
    let without = ladder(&advisory(MARGINAL), now(), Breadth::Wide).unwrap();
    assert!(!without.contains("class=\"pass\"") && !words_of(&without).contains("Passing"));
}

#[test]
fn words_of_passages_that_have_no_room_are_left_out_and_stay_in_the_description() {
    let mut short = with_entrance();
    let middle = short.session.leaves + TimeDelta::hours(2);
    let passages = short.entrance.as_mut().unwrap();
    (passages.out.at, passages.home.at) = (middle, middle + TimeDelta::minutes(10));
    let drawing = ladder(&short, now(), Breadth::Narrow).unwrap();
    assert!(!drawing.contains(">out 11:30") && !drawing.contains("Gut out"));
    assert!(words_of(&drawing).contains("out at 11:30, in at 11:40"));
}

#[test]
fn the_sea_is_valued_at_both_passages_and_a_missing_height_stays_missing() {
    let drawing = sea(&with_entrance(), Breadth::Wide).unwrap();
    assert!(drawing.contains(">0.9 m, 6 s</text>"));
    assert_eq!(
        drawing.matches(" s</text>").count(),
        1,
        "the first passage's sea is not known"
    );
    assert_eq!(drawing.matches("class=\"pass\"").count(), 2);
    assert!(drawing.contains("in the Gut: missing at 09:50, 0.9 m, 6 s at 16:40"));
    let without = sea(&advisory(MARGINAL), Breadth::Wide).unwrap();
    assert_eq!(
        without.matches(" s</text>").count(),
        2,
        "on leaving and alongside, with their periods"
    );
}

#[test]
fn a_change_is_told_with_its_range_and_a_limit_with_when_it_is_passed() {
    let drawing = ladder(&advisory(MARGINAL), now(), Breadth::Wide).unwrap();
    let words = words_of(&drawing);
    assert!(words.contains("second reef due 15:00, by the spread "), "{words}");
    assert!(
        words.contains("caution from 22, stop at 28. Passed 15:40 to 17:00."),
        "{words}"
    );
    assert!(
        drawing.contains(">by the spread ") && drawing.contains("class=\"ml\""),
        "the whisker and its words"
    );
}

#[test]
fn shaking_out_has_a_hollow_diamond() {
    let mut one = advisory(MARGINAL);
    let plan = one.plan.as_mut().unwrap();
    let change = &mut plan.changes[0];
    std::mem::swap(&mut plan.leave_with, &mut change.sail);
    change.shaking_out = true;
    let drawing = ladder(&one, now(), Breadth::Wide).unwrap();
    assert!(drawing.contains("class=\"mo\"") && drawing.contains(">shake out 15:00</text>"));
    assert!(words_of(&drawing).contains("Then shake out 15:00"));
}

#[test]
fn a_sun_that_set_before_the_first_hour_leaves_the_whole_plot_dark() {
    let mut one = advisory(MARGINAL);
    let dark = |one: &Advisory| {
        let drawing = ladder(one, now(), Breadth::Wide).unwrap();
        let before = drawing
            .split_once("fill=\"url(#wnight)\"")
            .map(|(before, _)| before.to_owned());
        before.map(|before| before.rsplit_once("<rect ").unwrap().1.to_owned())
    };
    let evening = dark(&one).unwrap();
    one.sunset = Some(one.hours[0].at - TimeDelta::hours(1));
    let night = dark(&one).unwrap();
    assert!(
        night.contains("x=\"232.0\"") && !evening.contains("x=\"232.0\""),
        "{evening} {night}"
    );
    one.sunset = Some(one.hours.last().unwrap().at + TimeDelta::hours(1));
    assert!(dark(&one).is_none(), "a sun that is still up");
}

#[test]
fn without_a_spread_there_is_no_fan_but_the_words_and_one_from_floors_is_dashed() {
    let none = ladder(&advisory(NO_CALL), now(), Breadth::Wide).unwrap();
    assert!(!none.contains("class=\"fan\"") && none.contains(">no spread known</text>"));
    assert!(words_of(&none).contains("No spread is known."));
    let mut floors = advisory(MARGINAL);
    floors
        .hours
        .iter_mut()
        .for_each(|hour| hour.spread_from_floor = true);
    let dashed = ladder(&floors, now(), Breadth::Wide).unwrap();
    assert!(dashed.contains("class=\"fanl floor\"") && dashed.contains(">dashed: usual spread only</text>"));
}

#[test]
fn an_estimated_gust_is_dashed_and_says_so() {
    let mut one = advisory(MARGINAL);
    one.hours.iter_mut().for_each(|hour| hour.gust_estimated = true);
    let drawing = ladder(&one, now(), Breadth::Wide).unwrap();
    assert!(drawing.contains("class=\"gust estimated\"") && drawing.contains(">gust estimated "));
}

// Source: the time zone database, Europe/London: the clocks go back an hour on 25 October 2026 at 02:00 BST.
#[test]
fn an_hour_that_the_clocks_repeat_is_drawn_twice_and_said() {
    let mut one = advisory(MARGINAL);
    let winter = FixedOffset::east_opt(0).unwrap();
    let half = one.hours.len() / 2;
    for hour in one.hours.iter_mut().skip(half) {
        hour.at = hour.at.with_timezone(&winter);
    }
    let repeated = one.hours[half].at.format("%H:%M").to_string();
    let drawing = ladder(&one, now(), Breadth::Wide).unwrap();
    assert!(
        words_of(&drawing).contains("The clocks go back in these hours: what they repeat is drawn twice.")
    );
    assert_eq!(drawing.matches(&format!(">{repeated}</text>")).count(), 2);
    assert!(!words_of(&ladder(&advisory(MARGINAL), now(), Breadth::Wide).unwrap()).contains("clocks"));
}

// Source: WMO-No. 485, the station model: feathers on the clockwise side in the northern hemisphere, mirrored in the southern.
#[test]
fn barbs_are_mirrored_south_of_the_equator() {
    let mut one = advisory(MARGINAL);
    let mirrored = |one: &Advisory| {
        ladder(one, now(), Breadth::Wide)
            .unwrap()
            .matches(" scale(-1 1)")
            .count()
    };
    assert_eq!(mirrored(&one), 0);
    one.southern = true;
    assert!(mirrored(&one) > 2);
}

#[test]
fn the_sheets_drawing_holds_the_same_without_boxes_of_what_to_carry() {
    let drawing = ladder(&with_entrance(), now(), SHEET).unwrap();
    assert!(drawing.contains("class=\"ladder sheet\"") && drawing.contains("id=\"p0t\""));
    assert!(!drawing.contains("class=\"carry"));
    assert!(drawing.contains(">second reef due 15:00</text>") && drawing.contains(">stop 22 / 28</text>"));
    let old = ladder(&with_entrance(), later(), SHEET).unwrap();
    assert!(!old.contains("reef due"), "an old advisory has no plan to draw");
}

#[test]
fn only_a_call_that_lets_her_leave_has_a_reef_to_take() {
    for (sample, plan) in [
        (MARGINAL, true),
        (GO, true),
        (LIGHT, true),
        (NO_GO, false),
        (NO_CALL, false),
    ] {
        let drawing = ladder(&advisory(sample), now(), SHEET).unwrap();
        assert_eq!(
            !words_of(&drawing).contains("No sail plan is given."),
            plan,
            "sample {sample}"
        );
    }
}

#[test]
fn hostile_names_arrive_as_words_in_every_drawing() {
    let mut one = hostile();
    one.legs = vec![leg(one.session.leaves)];
    one.lessons = vec![lesson("reefing", false)];
    for breadth in Breadth::ALL.into_iter().chain([SHEET]) {
        let drawing = ladder(&one, now(), breadth).unwrap() + &sea(&one, breadth).unwrap();
        assert!(
            !drawing.contains("<script") && drawing.contains("&#60;script&#62;"),
            "{breadth:?}"
        );
    }
}

#[test]
fn what_is_missing_is_written_over_the_uprights_of_the_passages() {
    let mut one = advisory(NO_CALL);
    one.entrance = Some(entrance(&one, "the Gut"));
    for breadth in Breadth::ALL.into_iter().chain([SHEET]) {
        let wind = ladder(&one, now(), breadth).unwrap();
        assert!(wind.find(">no gust").unwrap() > wind.rfind("class=\"pass\"").unwrap());
        let sea = sea(&one, breadth).unwrap();
        assert!(sea.find(">no sea").unwrap() > sea.rfind("class=\"pass\"").unwrap());
    }
}
