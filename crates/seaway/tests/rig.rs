//! Centres of sails and heel, against corners and sums worked another way. No source but geometry.

use seaway::heel::{self, LEVER_EXPONENT, Stiffness};
use seaway::rig::RigTriangle;
use seaway::{Kilograms, Knots, Metres, NewtonMetres, SquareMetres};

/// The invented 10 m cruising sloop of the published check values.
const SLOOP: RigTriangle = RigTriangle {
    i: Metres(13.2),
    j: Metres(3.9),
    p: Metres(11.9),
    e: Metres(4.2),
    boom_above_deck: Metres(1.3),
};

/// Area and centre of a triangle from its corners: half the cross product, and the mean.
fn of_corners(corners: [(f64, f64); 3]) -> (f64, f64, f64) {
    let [a, b, c] = corners;
    let area = ((b.0 - a.0) * (c.1 - a.1) - (c.0 - a.0) * (b.1 - a.1)).abs() / 2.0;
    (area, (a.0 + b.0 + c.0) / 3.0, (a.1 + b.1 + c.1) / 3.0)
}

#[track_caller]
fn close(found: (f64, f64, f64), expected: (f64, f64, f64)) {
    for (found, expected) in [
        (found.0, expected.0),
        (found.1, expected.1),
        (found.2, expected.2),
    ] {
        assert!(
            (found - expected).abs() < 1e-9,
            "found {found}, expected {expected}"
        );
    }
}

#[test]
fn a_reefed_main_is_the_triangle_of_its_corners() {
    let main = SLOOP.main(0.24);
    let left = 0.76;
    let corners = [(3.9, 1.3), (3.9, 1.3 + 11.9 * left), (3.9 + 4.2 * left, 1.3)];
    close((main.area.0, main.aft.0, main.above_deck.0), of_corners(corners));
}

#[test]
fn a_rolled_headsail_is_the_triangle_left_when_a_strip_along_the_luff_is_gone() {
    let stay = 13.2f64.hypot(3.9);
    let (aft, up) = (3.9 / stay, 13.2 / stay);
    let width = 3.9 * up;
    for fraction in [1.0f64, 0.8, 0.5, 0.3] {
        // The clew of the sail's cloth, laid along the luff: across it and along it from the tack.
        let clew = (width, 3.9 * aft);
        let strip = width * (1.0 - fraction.sqrt());
        // The line that becomes the new luff cuts foot and leech where they are one strip from the old luff.
        let on_foot = clew.1 * strip / width;
        let on_leech = stay + (clew.1 - stay) * strip / width;
        let laid = [(0.0, on_foot), (0.0, on_leech), (width - strip, clew.1)];
        let corners = laid.map(|(across, along)| (along * aft + across * up, along * up - across * aft));
        let sail = SLOOP.headsail(fraction);
        close((sail.area.0, sail.aft.0, sail.above_deck.0), of_corners(corners));
    }
}

#[test]
fn reefing_one_sail_alone_moves_the_effort_and_both_together_less() {
    let full = SLOOP.both(0.0, 1.0).expect("sails are set").aft.0;
    let main_alone = SLOOP.both(0.24, 0.0).expect("the main is set").aft.0 - full;
    let headsail_alone = SLOOP.both(1.0, 1.0).expect("the headsail is set").aft.0 - full;
    let together = SLOOP.both(0.24, 0.5).expect("sails are set").aft.0 - full;
    assert!(main_alone > together && together > headsail_alone);
    assert!(SLOOP.both(1.0, 0.0).is_none(), "bare poles have no centre");
}

#[test]
fn heel_has_no_answer_where_there_is_none() {
    let stiffness = Stiffness::of_metacentre(Kilograms(5200.0), Metres(1.1));
    for moment in [f64::NAN, f64::INFINITY, -1.0] {
        assert_eq!(
            heel::steady_heel_deg(NewtonMetres(moment), stiffness, LEVER_EXPONENT),
            None
        );
    }
    let none = Stiffness::of_metacentre(Kilograms(0.0), Metres(1.1));
    assert_eq!(
        heel::steady_heel_deg(NewtonMetres(1.0), none, LEVER_EXPONENT),
        None
    );
    assert_eq!(heel::steady_heel_deg(NewtonMetres(1e9), stiffness, 0.0), None);
    assert_eq!(
        heel::steady_heel_deg(NewtonMetres(0.0), stiffness, LEVER_EXPONENT),
        Some(0.0)
    );
}

#[test]
fn both_ways_of_giving_stiffness_agree_and_heel_grows_with_the_wind() {
    let from_gm = Stiffness::of_metacentre(Kilograms(5200.0), Metres(1.1));
    let from_certificate = Stiffness::of_moment_at_one_degree(from_gm.moment_at_one_degree());
    let heel_at = |stiffness, wind: u8| {
        let wind = Knots(f64::from(wind));
        heel::close_hauled_heel_deg(wind, SquareMetres(50.0), Metres(5.8), stiffness).expect("it has one")
    };
    assert!((heel_at(from_gm, 20) - heel_at(from_certificate, 20)).abs() < 1e-9);
    for wind in 1..60 {
        assert!(heel_at(from_gm, wind) < heel_at(from_gm, wind + 1), "{wind} kn");
    }
    // Close hauled at 20 kn she feels 23.8 kn (cosine rule with 5 kn at 45 degrees), and heels past the row for 20 kn.
    assert!(heel_at(from_gm, 20) > 18.266);
}
