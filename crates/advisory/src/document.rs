//! The form of an advisory. Plain data: what is shown, in the order it is shown, with every number's unit in its name.
//!
//! The JSON of this document is what the API answers, what is stored, and what `explain` makes again byte for byte, so
//! nothing here depends on a map's order, on the clock or on the machine. Times are RFC 3339 with the club's offset.

use chrono::{DateTime, FixedOffset, Utc};
use serde::{Deserialize, Serialize};

/// The form of the document; raised with each change of it, so that a changed form is issued anew and not taken for the old one.
pub const FORM: u16 = 6;

/// A moment, written with the club's offset.
pub type LocalTime = DateTime<FixedOffset>;

/// The advisory for one session.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Advisory {
    /// First sixteen hexadecimal digits of the hash of its inputs.
    pub id: String,
    /// The club.
    pub club: ClubName,
    /// The session.
    pub session: Session,
    /// When it was issued.
    pub issued_at: DateTime<FixedOffset>,
    /// Until when it may be shown as current; after it every surface says "old: no call".
    pub valid_until: DateTime<FixedOffset>,
    /// When the club decides.
    pub decides_by: DateTime<FixedOffset>,
    /// The call.
    pub call: CallWord,
    /// What the forecast alone says, where a worse call stands until it is believed (steadiness).
    pub kinder_forecast: Option<CallWord>,
    /// A go with too little wind to sail much.
    pub light: bool,
    /// How much the call can be leaned on.
    pub firmness: Firmness,
    /// One or two sentences: the call explained.
    pub summary: String,
    /// The wind over the session in words: "Wind south-west force 4, rising to 5: 12 kn, then 17 with gusts of 25 by 17:00."
    pub wind_words: String,
    /// What to leave with and what changes when; none where no row fits or the wind is not known.
    pub plan: Option<Plan>,
    /// Why, worst first.
    pub reasons: Vec<Reason>,
    /// What is not known and why.
    pub missing: Vec<MissingValue>,
    /// What the skipper must see.
    pub cautions: Vec<Caution>,
    /// The legs in order, each in the wind of its hour; empty where the session names none.
    #[serde(default)]
    pub legs: Vec<LegView>,
    /// What of the level's syllabus the hours suit, in the syllabus's order; none with a no-go or no call.
    #[serde(default)]
    pub lessons: Vec<LessonFit>,
    /// What would make it a better call, where the rules found something.
    pub way_out: Option<WayOut>,
    /// Members counted, floors, probabilities.
    pub sureness: Sureness,
    /// What the last runs before this one said, the oldest first.
    #[serde(default)]
    pub moved: Vec<PastCall>,
    /// Hour by hour, from one hour before leaving to two hours after being alongside.
    pub hours: Vec<Hour>,
    /// The boat's reef table, its bounds as true wind at 10 m.
    pub reef_table: Vec<Row>,
    /// That the club's own table speaks of another wind, where it does.
    pub reef_table_words: Option<String>,
    /// The level's limits.
    pub limits: Vec<LimitPair>,
    /// Sunset on the day, if the sun sets.
    pub sunset: Option<DateTime<FixedOffset>>,
    /// The venue lies south of the equator: wind barbs are drawn mirrored there.
    #[serde(default)]
    pub southern: bool,
    /// The venue's entrance at its two passages; none where it has none.
    #[serde(default)]
    pub entrance: Option<EntranceView>,
    /// The forecast runs used or refused, one for each group of quantities.
    pub sources: Vec<SourceUse>,
    /// What moved the call from the bare forecast, mostly to the stricter side, and by how much.
    pub tightenings: Vec<Tightening>,
    /// Whether official warnings were checked (they are not, in this version) and where they are found.
    pub warnings: String,
    /// Whose word counts: the skipper's, official warnings, local rules.
    pub caution_to_all: String,
    /// What was used, by version.
    pub versions: Versions,
}

/// The club as shown.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ClubName {
    /// Short name in addresses.
    pub slug: String,
    /// Name.
    pub name: String,
    /// IANA time zone.
    pub time_zone: String,
    /// Contact.
    pub contact: Option<String>,
}

impl From<&club::Club> for ClubName {
    fn from(club: &club::Club) -> Self {
        Self {
            slug: club.slug.clone(),
            name: club.name.clone(),
            time_zone: club.time_zone.name().to_owned(),
            contact: club.contact.clone(),
        }
    }
}

/// A key with the name that is shown for it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Named {
    /// Key in the club file.
    pub id: String,
    /// Name.
    pub name: String,
}

/// The session as shown.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Session {
    /// Stable over issues: the session's key and its recurrence id.
    pub id: String,
    /// Where.
    pub venue: Named,
    /// With which boat.
    pub boat: Named,
    /// For which level.
    pub level: Named,
    /// Leaving the berth.
    pub leaves: DateTime<FixedOffset>,
    /// Back alongside.
    pub alongside: DateTime<FixedOffset>,
}

/// The call.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum CallWord {
    /// Go.
    Go,
    /// Passable, with care.
    Marginal,
    /// Not to be sailed.
    NoGo,
    /// The data cannot support a call.
    NoCall,
}

impl From<rules::Call> for CallWord {
    fn from(call: rules::Call) -> Self {
        match call {
            rules::Call::Go => Self::Go,
            rules::Call::Marginal => Self::Marginal,
            rules::Call::NoGo => Self::NoGo,
            rules::Call::NoCall => Self::NoCall,
        }
    }
}

impl From<CallWord> for rules::Call {
    fn from(word: CallWord) -> Self {
        match word {
            CallWord::Go => Self::Go,
            CallWord::Marginal => Self::Marginal,
            CallWord::NoGo => Self::NoGo,
            CallWord::NoCall => Self::NoCall,
        }
    }
}

impl CallWord {
    /// As written on every surface.
    pub fn words(self) -> &'static str {
        match self {
            Self::Go => "Go",
            Self::Marginal => "Marginal",
            Self::NoGo => "No-go",
            Self::NoCall => "No call",
        }
    }
}

/// How much a call can be leaned on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Firmness {
    /// Near, with little spread.
    Firm,
    /// Good enough to plan by.
    Likely,
    /// Too far or too wide to lean on.
    EarlyView,
}

impl Firmness {
    /// As written on every surface.
    pub fn words(self) -> &'static str {
        match self {
            Self::Firm => "firm",
            Self::Likely => "likely",
            Self::EarlyView => "early view",
        }
    }
}

/// A stretch of time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Span {
    /// From.
    pub from: DateTime<FixedOffset>,
    /// To.
    pub to: DateTime<FixedOffset>,
}

/// The sail plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Plan {
    /// What to leave the berth with.
    pub leave_with: Sail,
    /// What changes, in order of time.
    pub changes: Vec<PlanChange>,
    /// From when the wind is past the boat's table: she does not sail.
    pub past_table_from: Option<DateTime<FixedOffset>>,
}

/// What is set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Sail {
    /// Row of the reef table, counted from 0.
    pub row: usize,
    /// Reefs in the main.
    pub reefs: u8,
    /// Fraction of the headsail's area, 0 to 1.
    pub headsail: f64,
    /// In words: "2 reefs, ½ headsail".
    pub words: String,
    /// The club's note on the row.
    pub note: Option<String>,
}

/// A change of sail.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PlanChange {
    /// From this hour.
    pub at: DateTime<FixedOffset>,
    /// Set this.
    pub sail: Sail,
    /// More sail than before (shaking out) rather than less.
    pub shaking_out: bool,
}

/// One reason.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Reason {
    /// The quantity's key, for example `gust_kn`.
    pub quantity: String,
    /// What it makes of the hour: marginal or no-go.
    pub call: CallWord,
    /// In few words, for a board: "Gusts 27 kn at 18:00, stop at 22.5".
    pub short: String,
    /// The sentence: "Gusts 27 kn at 18:00; caution from 19.5, stop at 22.5."
    pub words: String,
    /// The value.
    pub value: f64,
    /// Its unit; empty for a ratio.
    pub unit: String,
    /// Where caution starts.
    pub caution_at: f64,
    /// Where it stops.
    pub stop_at: f64,
    /// How far inside the stop, in the unit; negative past it.
    pub margin: f64,
    /// The hour of that value.
    pub at: DateTime<FixedOffset>,
    /// From when to when the caution is passed, in that member.
    pub passed: Option<Span>,
    /// The forecast source; none for what no forecast says, as the hour of sunset or of high water.
    pub source: Option<String>,
    /// Its run's reference time.
    pub run: Option<DateTime<Utc>>,
    /// The member that stands at the threshold; none when the run has only one.
    pub member: Option<u16>,
    /// Members of that source past the caution or worse.
    pub members_past_caution: Option<u16>,
    /// Members past the stop.
    pub members_past_stop: Option<u16>,
    /// What was done to the value: estimated, from an offshore node, sector factor.
    pub notes: Vec<String>,
}

/// Something not known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct MissingValue {
    /// The quantity's key.
    pub quantity: String,
    /// Why, as a key (`damaged`, `beyond-run`, ...).
    pub reason: String,
    /// The sentence: "No gust 13:00 to 15:00: damaged message (gefs, run of 13 May 00:00 UTC, member 7)."
    pub words: String,
    /// When.
    pub span: Span,
    /// The forecast source, if one was asked.
    pub source: Option<String>,
    /// The members concerned; empty when it is all of them or the run has one.
    pub members: Vec<u16>,
}

/// A caution.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Caution {
    /// Its code: `reef-before-leaving`, `berth-leaving`, `entrance-leaving`, `clip-on`, `thunder`, `fog`, `cold`, `lee-shore`,
    /// `onshore-shift`, `wind-against-stream`, `preventer`, `building`, `way-home`, `entrance-returning`, `berth-returning`, `dusk`.
    pub code: String,
    /// When: "leaving", "from 14:00", "16:00 to 16:35".
    pub when: String,
    /// A few words set in bold: "Blown off the berth".
    pub title: String,
    /// The rest of the sentence.
    pub words: String,
    /// The hours it holds for.
    pub span: Span,
}

/// A leg of the session.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LegView {
    /// Its course, degrees true.
    pub course_deg: f64,
    /// Its length, nautical miles.
    pub distance_nm: f64,
    /// When it begins if nothing holds her up: at 5 kn from leaving.
    pub at: DateTime<FixedOffset>,
    /// True wind off the bow then, degrees, 0 to 180; none where the wind is not known.
    pub wind_angle_deg: Option<f64>,
    /// What is sailed in tacks, nautical miles; none where the leg can be sailed as it lies.
    pub tacked_nm: Option<f64>,
    /// In few words, set in bold: "Course 225, 6 nm".
    pub title: String,
    /// The rest: "broad reach, the wind 140° off the bow".
    pub words: String,
}

/// The entrance as she passes it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct EntranceView {
    /// Its name.
    pub name: String,
    /// Leaving.
    pub out: PassageView,
    /// Returning.
    pub home: PassageView,
}

/// One passage of the entrance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PassageView {
    /// When she passes.
    pub at: DateTime<FixedOffset>,
    /// Significant wave height then, m.
    pub wave_m: Option<f64>,
    /// Period of the primary waves then, s.
    pub wave_period_s: Option<f64>,
}

/// A lesson and the hours it suits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LessonFit {
    /// Its name in the syllabus.
    pub name: String,
    /// It is one for light air.
    pub light_air: bool,
    /// The hours, unbroken stretches in order.
    pub spans: Vec<Span>,
    /// The hours in words: "10:00 to 12:00 and 14:00".
    pub words: String,
}

/// What would make it a better call.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct WayOut {
    /// `shorter`, `earlier`, `later`, `another-boat`, `another-venue`.
    pub kind: String,
    /// In few words, set in bold: "Back by 14:15".
    pub title: String,
    /// The rest: "then it is a go".
    pub words: String,
    /// Leaving.
    pub leaves: DateTime<FixedOffset>,
    /// Alongside.
    pub alongside: DateTime<FixedOffset>,
    /// The call it would then have.
    pub call: CallWord,
}

/// How sure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Sureness {
    /// The sentence.
    pub words: String,
    /// The ensemble, if one was used.
    pub source: Option<String>,
    /// Members the run should have.
    pub members_expected: u16,
    /// Members that could be called.
    pub members: u16,
    /// Of those, go.
    pub go: u16,
    /// Of those, marginal.
    pub marginal: u16,
    /// Of those, no-go.
    pub no_go: u16,
    /// Members set aside because a value they need is missing.
    pub set_aside: Vec<u16>,
    /// Share of members that are no-go, floors set aside.
    pub counted_no_go: Option<f64>,
    /// Share of members that are marginal or worse, floors set aside.
    pub counted_marginal_or_worse: Option<f64>,
    /// Probability of no-go, floors of spread included; this one makes the call.
    pub p_no_go: Option<f64>,
    /// Probability of marginal or worse, floors included.
    pub p_marginal_or_worse: Option<f64>,
    /// The call of the finest deterministic run alone.
    pub deterministic_call: Option<CallWord>,
    /// The second ensemble, where the policy names two; the probabilities above are then both together.
    pub second: Option<SecondSource>,
}

/// A second ensemble by itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SecondSource {
    /// The source.
    pub source: String,
    /// Its call alone.
    pub call: CallWord,
    /// Members that could be called.
    pub members: u16,
    /// Of those, go.
    pub go: u16,
    /// Of those, marginal.
    pub marginal: u16,
    /// Of those, no-go.
    pub no_go: u16,
    /// Its probability of no-go, floors included.
    pub p_no_go: Option<f64>,
    /// Its probability of marginal or worse, floors included.
    pub p_marginal_or_worse: Option<f64>,
}

/// What the forecast of one run said of the session.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PastCall {
    /// Reference time of the run of the wind.
    pub run: DateTime<Utc>,
    /// Its call alone, before steadiness.
    pub call: CallWord,
    /// Its probability of no-go.
    pub p_no_go: Option<f64>,
}

/// One hour.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Hour {
    /// The hour.
    pub at: DateTime<FixedOffset>,
    /// Whether the boat is out.
    pub out: bool,
    /// Mean wind, kn; with an ensemble the median member.
    pub mean_kn: Option<f64>,
    /// Where it comes from, degrees true.
    pub from_deg: Option<f64>,
    /// Beaufort force of the mean.
    pub force: Option<u8>,
    /// Gust, kn.
    pub gust_kn: Option<f64>,
    /// The gust was estimated from the mean.
    pub gust_estimated: bool,
    /// Tenth and ninetieth percentile of the mean over members, floors included; none when no spread is known.
    #[cfg_attr(feature = "openapi", schema(value_type = Option<[f64; 2]>))]
    pub mean_spread_kn: Option<(f64, f64)>,
    /// The same for the gust.
    #[cfg_attr(feature = "openapi", schema(value_type = Option<[f64; 2]>))]
    pub gust_spread_kn: Option<(f64, f64)>,
    /// The spread comes from the floor alone, as there is no ensemble.
    pub spread_from_floor: bool,
    /// Significant wave height, m.
    pub wave_m: Option<f64>,
    /// Period of the primary waves, s.
    pub wave_period_s: Option<f64>,
    /// Where they come from, degrees true.
    pub wave_from_deg: Option<f64>,
    /// Visibility, m.
    pub visibility_m: Option<f64>,
    /// Rain, mm/h.
    pub rain_mm_h: Option<f64>,
    /// Row of the reef table to carry; none past the table or when the wind is not known.
    pub row: Option<usize>,
    /// Past the table.
    pub past_table: bool,
    /// The call of this hour alone.
    pub call: CallWord,
}

/// One row of the reef table.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Row {
    /// Highest mean wind, kn.
    pub mean_up_to_kn: f64,
    /// Highest gust, kn.
    pub gust_up_to_kn: f64,
    /// What is carried.
    pub sail: Sail,
}

/// A limit of the level.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LimitPair {
    /// The quantity's key.
    pub quantity: String,
    /// Where caution starts.
    pub caution_at: f64,
    /// Where it stops.
    pub stop_at: f64,
    /// Unit; empty for a ratio.
    pub unit: String,
    /// Lower values are worse.
    pub lower_is_worse: bool,
}

/// A forecast run, used or refused.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SourceUse {
    /// What it was used for: "wind and gust", "sea", "check", "weather".
    pub used_for: String,
    /// The source.
    pub source: String,
    /// The run's reference time; none when no run was at hand.
    pub run: Option<DateTime<Utc>>,
    /// Members read.
    pub members: u16,
    /// The producer's name and the sentence its licence asks for.
    pub attribution: String,
    /// "from a node 9 nm offshore", "run too old", ...
    pub notes: Vec<String>,
}

/// Something that makes calls stricter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Tightening {
    /// Its code.
    pub code: String,
    /// What it did to this call.
    pub words: String,
    /// The call without it; none where it changed only the plan.
    pub call_without: Option<CallWord>,
    /// The probability of no-go without it.
    pub p_no_go_without: Option<f64>,
}

/// What was used, by version.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Versions {
    /// SHA-256 of the club file.
    pub club: String,
    /// Hash of the catalogue of feeds.
    pub catalogue: String,
    /// Version of the rules: the crate's.
    pub rules: String,
    /// Version of the time-zone data.
    pub time_zones: String,
}
