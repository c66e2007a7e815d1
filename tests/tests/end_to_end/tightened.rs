//! What each tightening is said to do is what taking it out of the club file does, over the bundled run.

use advisory::Advisory;
use advisory::document::CallWord;
use cringle_tests::Scene;

/// A club of one fresh Wednesday morning; what a case changes stands in place of the default.
#[derive(Clone, Copy)]
struct Parts {
    policy: &'static str,
    points: &'static str,
    venue: &'static str,
    level: &'static str,
    limits: &'static str,
}

const BASE: Parts = Parts {
    // Gusts in a front are a tightening of their own, tried by itself.
    policy: "front_gust_factor = 1.0",
    points: "{ lat = 43.5, lon = -15.5 }",
    venue: "",
    level: "accumulate = false\nthunder_stops = false",
    limits: "mean_kn = { caution_at = 27, stop_at = 31 }\ngust_kn = { caution_at = 40, stop_at = 47 }\nwave_m = { caution_at = 3.2, stop_at = 3.8 }",
};

fn advised(parts: Parts) -> Advisory {
    let Parts {
        policy,
        points,
        venue,
        level,
        limits,
    } = parts;
    let club = format!(
        r#"
[club]
name = "Tightened"
slug = "tightened"
time_zone = "UTC"
[policy]
wind_sources = ["gfs"]
{policy}
[[venues]]
id = "here"
name = "Here"
points = [{points}]
{venue}
[[boats]]
id = "plain"
name = "Plain"
reef_table = [{{ mean_up_to_kn = 60, gust_up_to_kn = 80, reefs = 0, headsail = 1.0 }}]
[[levels]]
id = "any"
name = "Any"
{level}
[levels.limits]
{limits}
[[sessions]]
id = "wednesday"
venue = "here"
boat = "plain"
level = "any"
starts = "2030-05-15T08:00"
ends = "12:00"
"#
    );
    Scene::new(&club).advisory("wednesday")
}

/// The club with the tightening against the same club without it: the sentence's numbers are those of the second.
fn is_what_taking_it_out_does(code: &str, with: Parts, without: Parts) {
    let (with, without) = (advised(with), advised(without));
    let found = with.tightenings.iter().find(|told| told.code == code);
    let told = found.unwrap_or_else(|| panic!("{code} is told: {:#?}", with.tightenings));
    assert_eq!(told.call_without, Some(without.call), "{code}: {}", told.words);
    assert_eq!(
        told.p_no_go_without, without.sureness.p_no_go,
        "{code}: {}",
        told.words
    );
    let (before, after) = (&with.sureness, &without.sureness);
    assert!(
        with.call != without.call
            || before.p_no_go != after.p_no_go
            || before.p_marginal_or_worse != after.p_marginal_or_worse,
        "{code} does something here"
    );
    assert!(told.words.contains("without"), "{}", told.words);
}

#[test]
fn factors_and_limits_by_sector_and_a_second_point() {
    let all_round = "from_deg = 0\nto_deg = 359";
    let sectors: &'static str =
        Box::leak(format!("[[venues.wind_sectors]]\n{all_round}\nfactor = 1.3").into());
    is_what_taking_it_out_does(
        "wind-sectors",
        Parts {
            venue: sectors,
            ..BASE
        },
        BASE,
    );
    let limits: &'static str =
        Box::leak(format!("[[venues.limit_sectors]]\n{all_round}\nfactor = 0.8").into());
    is_what_taking_it_out_does(
        "limit-sectors",
        Parts {
            venue: limits,
            ..BASE
        },
        BASE,
    );
    // The second point is the windier by half a knot to four: the first alone is the club without it.
    let narrow = Parts {
        limits: "mean_kn = { caution_at = 22, stop_at = 25 }",
        ..BASE
    };
    let first = "{ lat = 42.0, lon = -13.0 }";
    let both = "{ lat = 42.0, lon = -13.0 }, { lat = 43.5, lon = -15.5 }";
    is_what_taking_it_out_does(
        "worst-point",
        Parts {
            points: both,
            ..narrow
        },
        Parts {
            points: first,
            ..narrow
        },
    );
}

#[test]
fn a_front_three_cautions_and_thunder() {
    is_what_taking_it_out_does("front", Parts { policy: "", ..BASE }, BASE);
    let cautions = "mean_kn = { caution_at = 18, stop_at = 45 }\nwave_m = { caution_at = 1.5, stop_at = 6 }\nvisibility_m = { caution_at = 50000, stop_at = 100 }";
    let loose = Parts {
        limits: cautions,
        ..BASE
    };
    let summed = Parts {
        level: "accumulate = true\nthunder_stops = false",
        ..loose
    };
    is_what_taking_it_out_does("accumulation", summed, loose);
    let thunder = Parts {
        policy: "front_gust_factor = 1.0\nsquall_stop_cape_j_kg = 50\nsquall_stop_rain_mm_h = 0.1",
        level: "accumulate = false\nthunder_stops = true",
        ..BASE
    };
    is_what_taking_it_out_does("thunder", thunder, BASE);
}

#[test]
fn what_the_water_does() {
    let entrance = "[venues.entrance]\nname = \"the Gap\"\nminutes_from_berth = 10\nwave_m = { caution_at = 1.0, stop_at = 1.5 }";
    let open = "[venues.entrance]\nname = \"the Gap\"\nminutes_from_berth = 10";
    is_what_taking_it_out_does(
        "entrance",
        Parts {
            venue: entrance,
            ..BASE
        },
        Parts { venue: open, ..BASE },
    );
    let fetch = "[venues.fetch]\ndirections = [{ from_deg = 0, distance_nm = 400 }, { from_deg = 180, distance_nm = 400 }]";
    is_what_taking_it_out_does("fetch", Parts { venue: fetch, ..BASE }, BASE);
    let stream = "[venues.tide]\nhigh_waters = [\"2030-05-14T21:40:00+00:00\", \"2030-05-15T10:05:00+00:00\", \"2030-05-15T22:30:00+00:00\"]\nstream = [{ hour = -6, set_deg = 245, springs_kn = 6, neaps_kn = 3 }, { hour = 6, set_deg = 245, springs_kn = 6, neaps_kn = 3 }]";
    is_what_taking_it_out_does(
        "stream",
        Parts {
            venue: stream,
            ..BASE
        },
        BASE,
    );
}

#[test]
fn what_has_no_effect_is_named_and_a_go_has_no_worst_hour() {
    let calm = Parts {
        venue: "[[venues.wind_sectors]]\nfrom_deg = 0\nto_deg = 359\nfactor = 1.05",
        limits: "mean_kn = { caution_at = 45, stop_at = 55 }",
        ..BASE
    };
    let advisory = advised(calm);
    assert_eq!(advisory.call, CallWord::Go);
    let codes: Vec<&str> = advisory
        .tightenings
        .iter()
        .map(|told| told.code.as_str())
        .collect();
    assert_eq!(codes, ["no-effect"]);
    assert_eq!(
        advisory.tightenings[0].words,
        "Without effect on this call: the floors of spread; factors on the wind by sector."
    );
}
