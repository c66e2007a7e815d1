//! The policy's numbers of judgement in sentences: what is forecast from, what is corrected, what is warned of.

use super::call::{clock, share};
use club::Policy;

/// The parts, each a heading with its sentences.
pub(super) fn parts(policy: &Policy) -> Vec<(&'static str, Vec<String>)> {
    vec![
        ("What it is forecast from", sources(policy)),
        ("What is done to wind and gust", corrections(policy)),
        ("What the skipper is warned of", cautions(policy)),
        ("The way home, and another venue", ways(policy)),
    ]
}

fn sources(policy: &Policy) -> Vec<String> {
    let of = |what: &str, names: &[String]| format!("{what}: {}, the first that serves.", names.join(", "));
    vec![
        of("Wind and gust", &policy.wind_sources),
        of("The finest single run", &policy.deterministic_sources),
        of("Waves", &policy.wave_sources),
        of(
            "Visibility, temperature, rain and thunder",
            &policy.weather_sources,
        ),
    ]
}

fn corrections(policy: &Policy) -> Vec<String> {
    vec![
        format!(
            "Where a source gives no gust it is the mean times {} at sea and times {} with the wind off the land.",
            policy.gust_factor_sea, policy.gust_factor_land
        ),
        format!(
            "A front is a shift of {}° within {} h, with rain: its gusts are taken times {}.",
            policy.front_veer_deg, policy.front_within_h, policy.front_gust_factor
        ),
        format!(
            "A sea breeze of {} kn with gusts of {} kn is planned for from {} on, where the land is {} °C warmer than the sea and \
             the wind is below {} kn.",
            policy.sea_breeze_mean_kn.0,
            policy.sea_breeze_gust_kn.0,
            clock(policy.sea_breeze_from),
            policy.sea_breeze_warmer_c,
            policy.sea_breeze_below_kn.0
        ),
        format!(
            "Sectors together never tighten a limit below {} of it. A factor below 1 that was learned is never below {}, and rests \
             on at least {} logged hours.",
            share(policy.limits_tightest),
            policy.learned_at_least,
            policy.learned_from_hours
        ),
        format!(
            "Steepness counts from a sea of {} m on.",
            policy.steepness_from_m.0
        ),
    ]
}

fn cautions(policy: &Policy) -> Vec<String> {
    let mut lines = wind_cautions(policy);
    lines.extend(weather_cautions(policy));
    lines
}

fn wind_cautions(policy: &Policy) -> Vec<String> {
    vec![
        format!(
            "All clip on from gusts of {} kn, and who leaves the cockpit from a sea of {} m.",
            policy.clip_on_gust_kn.0, policy.clip_on_wave_m.0
        ),
        format!(
            "A lee shore within {} nm, from a mean of {} kn on.",
            policy.lee_shore_within_nm.0, policy.lee_shore_from_kn.0
        ),
        format!(
            "A preventer from a wind {}° off the bow on.",
            policy.preventer_from_deg
        ),
        format!("The berth from {} kn across it on.", policy.berth_from_kn.0),
        format!(
            "A sea of {} m running into the entrance.",
            policy.entrance_sea_m.0
        ),
        format!(
            "Wind against stream: {} kn of stream against a mean of {} kn.",
            policy.stream_against_from_kn.0, policy.stream_against_wind_kn.0
        ),
        format!(
            "A wind that builds by {} kn or shifts by {}° on the way.",
            policy.rise_kn.0, policy.shift_deg
        ),
        format!("Dusk, from {} min before sunset on.", policy.dusk_within_min),
    ]
}

fn weather_cautions(policy: &Policy) -> Vec<String> {
    vec![
        format!(
            "Thunder: CAPE of {} J/kg with {} mm of rain an hour; where thunder stops a level, {} J/kg with {} mm.",
            policy.thunder_cape_j_kg,
            policy.thunder_rain_mm_h,
            policy.squall_stop_cape_j_kg,
            policy.squall_stop_rain_mm_h
        ),
        format!(
            "Visibility below {} m, and fog where the air is within {} °C of its dew point.",
            policy.poor_visibility_m.0, policy.fog_spread_c
        ),
        format!(
            "Cold: a wind chill of {} °C or less, or water of {} °C or less.",
            policy.cold_chill_c.0, policy.cold_water_c.0
        ),
    ]
}

fn ways(policy: &Policy) -> Vec<String> {
    vec![
        format!(
            "Home to windward is counted at {} kn made good, with {} min to spare. In a chop a boat sails {}° wider of the wind.",
            policy.home_made_good_kn.0, policy.home_spare_min, policy.chop_widens_deg
        ),
        format!(
            "Another venue of the club within {} nm is looked at as a way out.",
            policy.another_venue_within_nm.0
        ),
    ]
}
