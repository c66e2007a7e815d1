//! Sample advisories with invented names: a marginal, a go, a no-go, a light go, and one without a call whose gust and
//! sea are missing.

#![expect(clippy::expect_used, reason = "samples of tests fail by panicking")]

use advisory::Advisory;
use chrono::{DateTime, Utc};

/// The five samples, in this order.
pub fn advisories() -> Vec<Advisory> {
    serde_json::from_str(include_str!("../advisories.json")).expect("the samples have the document's form")
}

/// One of them.
pub fn advisory(index: usize) -> Advisory {
    advisories().swap_remove(index)
}

/// The marginal sample.
pub const MARGINAL: usize = 0;
/// The go.
pub const GO: usize = 1;
/// The no-go.
pub const NO_GO: usize = 2;
/// The light go.
pub const LIGHT: usize = 3;
/// The one without a call.
pub const NO_CALL: usize = 4;

/// While every sample is current.
pub fn now() -> DateTime<Utc> {
    at("2026-10-17T06:40:00+01:00")
}

/// After every sample has gone old.
pub fn later() -> DateTime<Utc> {
    at("2026-10-17T12:20:01+01:00")
}

fn at(time: &str) -> DateTime<Utc> {
    DateTime::parse_from_rfc3339(time).expect("a time").to_utc()
}

/// A name that would break out of a page or steer a terminal.
pub const HOSTILE: &str = "<script>alert(1)</script>\"'&\u{1b}[2J";

/// The marginal sample with every name and sentence replaced by the hostile one.
pub fn hostile() -> Advisory {
    let mut advisory = advisory(MARGINAL);
    let bad = || HOSTILE.to_owned();
    advisory.id = bad();
    advisory.club.name = bad();
    advisory.club.contact = Some(bad());
    advisory.session.id = bad();
    for named in [
        &mut advisory.session.venue,
        &mut advisory.session.boat,
        &mut advisory.session.level,
    ] {
        named.id = bad();
        named.name = bad();
    }
    advisory.summary = bad();
    advisory.wind_words = bad();
    let plan = advisory.plan.as_mut().expect("a plan");
    let changed = plan.changes.iter_mut().map(|change| &mut change.sail);
    let rows = advisory.reef_table.iter_mut().map(|row| &mut row.sail);
    for sail in std::iter::once(&mut plan.leave_with).chain(changed).chain(rows) {
        sail.words = bad();
        sail.note = Some(bad());
    }
    for reason in &mut advisory.reasons {
        (reason.words, reason.source, reason.notes) = (bad(), Some(bad()), vec![bad()]);
    }
    for caution in &mut advisory.cautions {
        (caution.when, caution.title, caution.words) = (bad(), bad(), bad());
    }
    let mut wild = leg(advisory.session.leaves);
    (wild.title, wild.words) = (bad(), bad());
    advisory.legs = vec![wild];
    advisory.lessons = [false, true].map(|light_air| lesson(HOSTILE, light_air)).into();
    for source in &mut advisory.sources {
        (source.used_for, source.source, source.attribution, source.notes) =
            (bad(), bad(), bad(), vec![bad()]);
    }
    for tightening in &mut advisory.tightenings {
        tightening.words = bad();
    }
    advisory.entrance = Some(entrance(&advisory, HOSTILE));
    let way_out = advisory.way_out.as_mut().expect("a way out");
    (way_out.title, way_out.words) = (bad(), bad());
    (
        advisory.sureness.words,
        advisory.warnings,
        advisory.caution_to_all,
    ) = (bad(), bad(), bad());
    let session = advisory.session.leaves;
    for hour in advisory.hours.iter_mut().filter(|hour| hour.at > session).take(2) {
        hour.gust_kn = None;
    }
    advisory.missing.push(advisory::document::MissingValue {
        quantity: "gust_kn".into(),
        reason: bad(),
        words: bad(),
        span: advisory::document::Span {
            from: session,
            to: advisory.session.alongside,
        },
        source: Some(bad()),
        members: vec![],
    });
    advisory
}

/// An entrance twenty minutes from the berth; the sea in it is known at the second passage only.
pub fn entrance(of: &Advisory, name: &str) -> advisory::document::EntranceView {
    let way = chrono::TimeDelta::minutes(20);
    let passage = |at, wave_m: Option<f64>| advisory::document::PassageView {
        at,
        wave_m,
        wave_period_s: wave_m.map(|_| 6.0),
    };
    advisory::document::EntranceView {
        name: name.to_owned(),
        out: passage(of.session.leaves + way, None),
        home: passage(of.session.alongside - way, Some(0.94)),
    }
}

/// A lesson that suits the hour of leaving and the next.
pub fn lesson(name: &str, light_air: bool) -> advisory::document::LessonFit {
    advisory::document::LessonFit {
        name: name.to_owned(),
        light_air,
        spans: Vec::new(),
        words: "09:30 to 10:00".to_owned(),
    }
}

/// A leg that begins then.
pub fn leg(at: advisory::document::LocalTime) -> advisory::document::LegView {
    advisory::document::LegView {
        course_deg: 225.0,
        distance_nm: 6.0,
        at,
        wind_angle_deg: Some(170.0),
        tacked_nm: None,
        title: "Course 225, 6 nm".to_owned(),
        words: "run, the wind 170° off the bow".to_owned(),
    }
}
