//! The answer to supposed hours, as it is written in JSON.
//!
//! Owns: its form. Must not know: how anything was judged.

use chrono::{DateTime, FixedOffset};
use forecast::Gap;
use rules::{Call, Firmness};
use serde::Serialize;

/// Said of every answer, in words and in JSON.
pub const SUPPOSED: &str = "supposed conditions";

/// The answer. Times are in the club's zone, with their offset.
#[derive(Clone, Debug, Serialize)]
pub struct Answer {
    /// Always [`SUPPOSED`].
    pub conditions: &'static str,
    /// Key of the venue.
    pub venue: String,
    /// Key of the boat.
    pub boat: String,
    /// Key of the level.
    pub level: String,
    /// Leaving.
    pub leaves: DateTime<FixedOffset>,
    /// Alongside.
    pub alongside: DateTime<FixedOffset>,
    /// The call.
    pub call: Call,
    /// A go with too little wind to sail much.
    pub light: bool,
    /// How much it could be leaned on, were the hours a forecast made an hour before the first of them.
    pub firmness: Firmness,
    /// What to leave with and what changes when; empty where the wind on leaving is not known or past the table.
    pub plan: Vec<Sail>,
    /// From when the wind is past the boat's table.
    pub past_table_from: Option<DateTime<FixedOffset>>,
    /// Why, worst first.
    pub reasons: Vec<Why>,
    /// Cautions.
    pub cautions: Vec<Caution>,
    /// What would make the call better.
    pub way_out: Option<WayOut>,
    /// Probability of no-go, floors included; none where nothing could be called.
    pub p_no_go: Option<f64>,
    /// Probability of marginal or worse.
    pub p_marginal_or_worse: Option<f64>,
    /// What is not known and should be.
    pub missing: Vec<Missing>,
    /// The floors of spread as they were applied.
    pub floors: Floors,
    /// What the gusts are: `of the moment`, `maxima of intervals`, `estimated from the mean` or `not given`.
    pub gusts: &'static str,
    /// Columns that were read and that nothing was judged by.
    pub not_judged: Vec<NotJudged>,
}

/// A sail from an instant on.
#[derive(Clone, Debug, Serialize)]
pub struct Sail {
    /// From.
    pub from: DateTime<FixedOffset>,
    /// Reefs in the main.
    pub reefs: u8,
    /// Share of the headsail's area, 0 to 1.
    pub headsail: f64,
}

/// A reason.
#[derive(Clone, Debug, Serialize)]
pub struct Why {
    /// Key of the quantity, with its unit.
    pub quantity: &'static str,
    /// Its value.
    pub value: f64,
    /// Where it stops.
    pub limit: f64,
    /// Where caution begins.
    pub caution_at: f64,
    /// How far inside the stop; negative past it.
    pub margin: f64,
    /// When.
    pub time: DateTime<FixedOffset>,
    /// The member it is told by; none where there is only one.
    pub member: Option<u16>,
    /// The value itself is inside; the floors of spread reach past.
    pub by_floor: bool,
    /// The sentence an advisory would have.
    #[serde(skip)]
    pub words: String,
}

/// A caution.
#[derive(Clone, Debug, Serialize)]
pub struct Caution {
    /// Its code.
    pub code: &'static str,
    /// First instant.
    pub from: DateTime<FixedOffset>,
    /// Last instant.
    pub to: DateTime<FixedOffset>,
    /// When, and the sentence an advisory would have.
    #[serde(skip)]
    pub words: String,
}

/// A way out.
#[derive(Clone, Debug, Serialize)]
pub struct WayOut {
    /// `shorter`, `earlier`, `later` or `another-boat`.
    pub kind: &'static str,
    /// Key of the boat.
    pub boat: String,
    /// The sentence an advisory would have.
    #[serde(skip)]
    pub words: String,
    /// Leaving.
    pub leaves: DateTime<FixedOffset>,
    /// Alongside.
    pub alongside: DateTime<FixedOffset>,
    /// The call it would have.
    pub call: Call,
}

/// A value that is missing.
#[derive(Clone, Debug, Serialize)]
pub struct Missing {
    /// Key of the quantity.
    pub quantity: &'static str,
    /// What it is called.
    #[serde(skip)]
    pub name: &'static str,
    /// Why: `not-in-feed` (no such column), `not-there` (an empty cell, or no row), `beyond-run` (after the last row).
    pub reason: Gap,
    /// First instant.
    pub from: DateTime<FixedOffset>,
    /// Last instant.
    pub to: DateTime<FixedOffset>,
    /// The members concerned; empty when it is all of them.
    pub members: Vec<u16>,
}

/// The floors as applied.
#[derive(Clone, Debug, Serialize)]
pub struct Floors {
    /// How many members the hours have.
    pub members: usize,
    /// The floor itself at its largest from leaving to being alongside, kn.
    pub speed_kn: f64,
    /// What was added of it at most to the members' own spread, kn.
    pub added_kn: f64,
    /// How far a change was taken to come early or late, hours.
    pub timing_h: f64,
}

/// A column read and not judged by.
#[derive(Clone, Debug, Serialize)]
pub struct NotJudged {
    /// Its name.
    pub column: &'static str,
    /// Why not.
    pub why: &'static str,
}
