//! The club's policy: every number of trade judgement, with its default.
//!
//! Owns: those numbers. Must not know: how the file writes them, what a rule does with them.

use chrono::NaiveTime;
use seaway::{Celsius, Knots, Metres, NauticalMiles};
use serde::{Deserialize, Serialize};

/// Numbers of common practice (no source), shown on the page that says how the club decides. Defaults in brackets.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Policy {
    /// Sources for wind and gust, best first (such as `gefs`, `gfs`). An ensemble is assessed member by member.
    pub wind_sources: Vec<String>,
    /// The finest deterministic sources: past a stop there, a call is at least marginal (`gfs`).
    pub deterministic_sources: Vec<String>,
    /// Sources for waves (`gfs-wave`).
    pub wave_sources: Vec<String>,
    /// Sources for visibility, temperature, rain and CAPE (`gfs`).
    pub weather_sources: Vec<String>,
    /// No-go from this probability of no-go on (0.40).
    pub no_go_from: f64,
    /// Marginal from this probability of marginal or worse on (0.10).
    pub marginal_from: f64,
    /// Share of members that must be there for probabilities (0.80).
    pub members_needed: f64,
    /// The least spread to believe in, by lead time; held constant outside the points (2.5 kn, 2 h at 24 h; 4 kn, 6 h at 72 h).
    pub spread_floor: Vec<FloorPoint>,
    /// A run older than this is not used for valid times up to 48 h ahead (16 h).
    pub stale_after_near_h: f64,
    /// A run older than this is not used further ahead (22 h).
    pub stale_after_far_h: f64,
    /// Gust over mean where the source gives no gust, at sea (1.25).
    pub gust_factor_sea: f64,
    /// The same with the wind off the land (1.5).
    pub gust_factor_land: f64,
    /// Wind or gust from which a level's crew clips on (gust, 22 kn).
    pub clip_on_gust_kn: Knots,
    /// Wave height from which everyone who leaves the cockpit clips on (1.0 m).
    pub clip_on_wave_m: Metres,
    /// Mean wind from which a shore to leeward within `lee_shore_within_nm` is warned of (12 kn).
    pub lee_shore_from_kn: Knots,
    /// How near that shore is (3 nm).
    pub lee_shore_within_nm: NauticalMiles,
    /// True wind angle from which a preventer must be rigged (135 degrees).
    pub preventer_from_deg: f64,
    /// Component across the berth from which it is warned of (6 kn).
    pub berth_from_kn: Knots,
    /// Minutes before sunset from which dusk is warned of (60).
    pub dusk_within_min: f64,
    /// CAPE from which rain means thunder (500 J/kg).
    pub thunder_cape_j_kg: f64,
    /// Rain from which it does (1.0 mm/h).
    pub thunder_rain_mm_h: f64,
    /// Visibility below which it is poor (two nautical miles, 3,704 m).
    pub poor_visibility_m: Metres,
    /// Air above its dew point by no more than this may turn to fog (2.5 degrees).
    pub fog_spread_c: f64,
    /// Wind chill at or below which cold is warned of (5 degrees).
    pub cold_chill_c: Celsius,
    /// Water at or below which it is (12 degrees).
    pub cold_water_c: Celsius,
    /// Steepness counts only from this wave height on (0.5 m).
    pub steepness_from_m: Metres,
    /// What two ensembles make together (the worse).
    pub combine: Combine,
    /// A run of a regional source older than this is not used, near or far (9 h).
    pub stale_after_regional_h: f64,
    /// CAPE from which rain stops a level that `thunder_stops` (1,000 J/kg).
    pub squall_stop_cape_j_kg: f64,
    /// Rain from which it does (2.0 mm/h).
    pub squall_stop_rain_mm_h: f64,
    /// A front: the wind veers (backs, in the southern hemisphere) by this within `front_within_h`, with rain (40 degrees).
    pub front_veer_deg: f64,
    /// Within how many hours (3 h).
    pub front_within_h: f64,
    /// Factor on the gust while a front passes (1.5).
    pub front_gust_factor: f64,
    /// Land warmer than the sea by this makes a sea breeze (5 degrees).
    pub sea_breeze_warmer_c: f64,
    /// Unless the wind reaches this (10 kn).
    pub sea_breeze_below_kn: Knots,
    /// Wall time it is planned for from (12:00).
    pub sea_breeze_from: NaiveTime,
    /// The breeze to plan for: mean (15 kn).
    pub sea_breeze_mean_kn: Knots,
    /// And gust (20 kn).
    pub sea_breeze_gust_kn: Knots,
    /// Stream against the wind from which it is warned of (1 kn).
    pub stream_against_from_kn: Knots,
    /// Mean wind from which it is (10 kn).
    pub stream_against_wind_kn: Knots,
    /// Sea running into an entrance from which it is warned of (1.0 m).
    pub entrance_sea_m: Metres,
    /// Rise of the mean wind on the way that is warned of: building, and home to windward (4 kn).
    pub rise_kn: Knots,
    /// Veer or backing over a session that is warned of (45 degrees).
    pub shift_deg: f64,
    /// Speed made good on the way home to windward (3 kn).
    pub home_made_good_kn: Knots,
    /// Minutes to spare on it (30).
    pub home_spare_min: f64,
    /// In a chop from `steepness_from_m` on a boat sails this much wider of the wind (7 degrees).
    pub chop_widens_deg: f64,
    /// Another venue of the club this near is a way out (20 nm).
    pub another_venue_within_nm: NauticalMiles,
    /// What sectors make of a limit together is never below this part of it (0.80).
    pub limits_tightest: f64,
    /// A learned factor below 1 is never below this (0.85),
    pub learned_at_least: f64,
    /// and rests on at least so many logged hours above 12 kn (40).
    pub learned_from_hours: f64,
    /// A kinder call is believed when the wind's margin has grown by this (1 kn),
    pub kinder_margin_kn: Knots,
    /// or the chance of what was called has fallen by this (0.10); or when a second run agrees.
    pub kinder_probability: f64,
    /// A call is firm at most so far ahead (24 h),
    pub firm_within_h: f64,
    /// where at least this share agrees with it (0.70).
    pub firm_agreement: f64,
    /// It is likely at most so far ahead (72 h),
    pub likely_within_h: f64,
    /// where at least this share agrees (0.50); an early view otherwise.
    pub likely_agreement: f64,
}

/// What two ensembles make together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Combine {
    /// The worse of the two probabilities.
    #[default]
    Worse,
    /// Their mean.
    Mean,
}

/// The least spread at one lead time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FloorPoint {
    /// Lead time after the run's reference, hours.
    pub lead_h: f64,
    /// Least standard deviation of the mean wind over the members.
    pub speed: Knots,
    /// How far a change may come early or late, hours either way.
    pub timing_h: f64,
}

/// No source: common practice. The spread floors and the limits of age follow the design's rules.
impl Default for Policy {
    fn default() -> Self {
        Self {
            wind_sources: names(&["gefs", "gfs"]),
            deterministic_sources: names(&["gfs"]),
            wave_sources: names(&["gfs-wave"]),
            weather_sources: names(&["gfs"]),
            no_go_from: 0.40,
            marginal_from: 0.10,
            members_needed: 0.80,
            spread_floor: vec![
                FloorPoint {
                    lead_h: 24.0,
                    speed: Knots(2.5),
                    timing_h: 2.0,
                },
                FloorPoint {
                    lead_h: 72.0,
                    speed: Knots(4.0),
                    timing_h: 6.0,
                },
            ],
            stale_after_near_h: 16.0,
            stale_after_far_h: 22.0,
            gust_factor_sea: 1.25,
            gust_factor_land: 1.5,
            clip_on_gust_kn: Knots(22.0),
            clip_on_wave_m: Metres(1.0),
            lee_shore_from_kn: Knots(12.0),
            lee_shore_within_nm: NauticalMiles(3.0),
            preventer_from_deg: 135.0,
            berth_from_kn: Knots(6.0),
            dusk_within_min: 60.0,
            thunder_cape_j_kg: 500.0,
            thunder_rain_mm_h: 1.0,
            poor_visibility_m: Metres(3704.0),
            fog_spread_c: 2.5,
            cold_chill_c: Celsius(5.0),
            cold_water_c: Celsius(12.0),
            steepness_from_m: Metres(0.5),
            combine: Combine::Worse,
            stale_after_regional_h: 9.0,
            squall_stop_cape_j_kg: 1000.0,
            squall_stop_rain_mm_h: 2.0,
            front_veer_deg: 40.0,
            front_within_h: 3.0,
            front_gust_factor: 1.5,
            sea_breeze_warmer_c: 5.0,
            sea_breeze_below_kn: Knots(10.0),
            sea_breeze_from: NOON,
            sea_breeze_mean_kn: Knots(15.0),
            sea_breeze_gust_kn: Knots(20.0),
            stream_against_from_kn: Knots(1.0),
            stream_against_wind_kn: Knots(10.0),
            entrance_sea_m: Metres(1.0),
            rise_kn: Knots(4.0),
            shift_deg: 45.0,
            home_made_good_kn: Knots(3.0),
            home_spare_min: 30.0,
            chop_widens_deg: 7.0,
            another_venue_within_nm: NauticalMiles(20.0),
            limits_tightest: 0.8,
            learned_at_least: 0.85,
            learned_from_hours: 40.0,
            kinder_margin_kn: Knots(1.0),
            kinder_probability: 0.1,
            firm_within_h: 24.0,
            firm_agreement: 0.7,
            likely_within_h: 72.0,
            likely_agreement: 0.5,
        }
    }
}

/// Noon.
const NOON: NaiveTime = match NaiveTime::from_hms_opt(12, 0, 0) {
    Some(time) => time,
    None => NaiveTime::MIN,
};

fn names(names: &[&str]) -> Vec<String> {
    names.iter().map(|&name| name.to_owned()).collect()
}
