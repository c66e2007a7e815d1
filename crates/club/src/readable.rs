//! The club in plain lines, for whoever checks a club file: what was understood, and where limits fall in the tables.
//!
//! Owns: the lines that `check` prints. Must not know: files, terminals, forecasts.

use crate::model::{Boat, Club, Level, Limit, Quantity, ReefRow, SessionRule, Venue};
use crate::readable_rig::physics_lines;
use seaway::LatLon;

/// The whole club, a line to each thing that was understood.
pub fn readable_checks(club: &Club) -> Vec<String> {
    let mut lines = vec![format!(
        "{} ({}): times in {}, decides at {} the day before",
        club.name,
        club.slug,
        club.time_zone,
        club.decides_at.format("%H:%M")
    )];
    lines.extend([String::new(), "Venues".to_owned()]);
    lines.extend(club.venues.iter().map(venue_line));
    lines.extend([String::new(), "Boats".to_owned()]);
    lines.extend(club.boats.iter().flat_map(|boat| boat_lines(boat, &club.levels)));
    lines.extend([String::new(), "Levels".to_owned()]);
    lines.extend(club.levels.iter().flat_map(level_lines));
    lines.extend([String::new(), "Sessions".to_owned()]);
    lines.extend(club.sessions.iter().map(|session| session_line(session, club)));
    lines
}

fn venue_line(venue: &Venue) -> String {
    let points: Vec<String> = venue
        .points
        .iter()
        .map(|point| format!("{} at {}", point.name, place(point.at)))
        .collect();
    let mut parts = vec![points.join(", ")];
    parts.extend(
        venue
            .shores
            .iter()
            .map(|shore| format!("{} {} nm off", shore.name, shore.distance.0)),
    );
    parts.extend(
        venue
            .berth
            .as_ref()
            .map(|berth| format!("berth heading {:03.0}", berth.heading.degrees())),
    );
    parts.extend(venue.entrance.as_ref().map(|entrance| {
        format!(
            "{} {} min from the berth",
            entrance.name, entrance.minutes_from_berth
        )
    }));
    parts.extend((!venue.wind_sectors.is_empty()).then(|| count(venue.wind_sectors.len(), "wind sector")));
    format!("  {}: {}", venue.name, parts.join("; "))
}

fn place(at: LatLon) -> String {
    let north = if at.lat < 0.0 { "S" } else { "N" };
    let east = if at.lon < 0.0 { "W" } else { "E" };
    format!("{:.2} {north} {:.2} {east}", at.lat.abs(), at.lon.abs())
}

fn boat_lines(boat: &Boat, levels: &[Level]) -> Vec<String> {
    let rows = boat.reef_table.rows();
    let mut lines = vec![format!("  {}", boat.name)];
    lines.extend(rows.iter().enumerate().map(|(index, row)| row_line(index, row)));
    if let Some(last) = rows.last() {
        lines.push(format!(
            "    past a mean of {} kn or a gust of {} kn she does not sail",
            last.mean_up_to.0, last.gust_up_to.0
        ));
    }
    lines.extend(levels.iter().filter_map(|level| level_in_table(boat, level)));
    lines.extend(physics_lines(boat));
    lines
}

fn row_line(index: usize, row: &ReefRow) -> String {
    let note = row
        .note
        .as_ref()
        .map_or(String::new(), |note| format!(" ({note})"));
    format!(
        "    row {}: mean to {:>4} kn, gust to {:>4} kn: {}, {}{note}",
        index + 1,
        row.mean_up_to.0,
        row.gust_up_to.0,
        reefs(row.reefs),
        headsail(row.headsail.0)
    )
}

fn reefs(reefs: u8) -> String {
    match reefs {
        0 => "full main".to_owned(),
        1 => "1 reef".to_owned(),
        more => format!("{more} reefs"),
    }
}

fn headsail(fraction: f64) -> String {
    if fraction >= 1.0 {
        "full headsail".to_owned()
    } else if fraction <= 0.0 {
        "no headsail".to_owned()
    } else {
        format!("{:.0} % of the headsail", fraction * 100.0)
    }
}

/// In which rows of a boat's table a level's wind limits lie.
fn level_in_table(boat: &Boat, level: &Level) -> Option<String> {
    let rows = boat.reef_table.rows();
    let row_at =
        |reaches: &dyn Fn(&ReefRow) -> f64, wind: f64| match rows.iter().position(|row| wind <= reaches(row))
        {
            Some(index) => format!("row {}", index + 1),
            None => "past the table".to_owned(),
        };
    let words = |quantity: Quantity, reaches: &dyn Fn(&ReefRow) -> f64| {
        level.limits.get(&quantity).map(|limit| {
            format!(
                "{} caution {} ({}), stop {} ({})",
                quantity_name(quantity),
                limit.caution_at,
                row_at(reaches, limit.caution_at),
                limit.stop_at,
                row_at(reaches, limit.stop_at)
            )
        })
    };
    let mean = words(Quantity::Mean, &|row| row.mean_up_to.0);
    let gust = words(Quantity::Gust, &|row| row.gust_up_to.0);
    let both: Vec<String> = [mean, gust].into_iter().flatten().collect();
    (!both.is_empty()).then(|| format!("    {}: {}", level.name, both.join("; ")))
}

fn level_lines(level: &Level) -> Vec<String> {
    let mut traits = Vec::new();
    traits.extend(level.learners.then(|| "learners".to_owned()));
    traits.extend(
        level
            .accumulate
            .then(|| "three cautions in one hour stop".to_owned()),
    );
    traits.extend(
        (level.extra_reefs > 0).then(|| format!("{} more reefed", count(level.extra_reefs.into(), "row"))),
    );
    traits.push(format!("light below {} kn", level.light_below.0));
    let mut lines = vec![format!("  {}: {}", level.name, traits.join(", "))];
    lines.extend(
        level
            .limits
            .iter()
            .map(|(quantity, limit)| limit_line(*quantity, *limit)),
    );
    lines
}

fn limit_line(quantity: Quantity, limit: Limit) -> String {
    let side = if quantity.lower_is_worse() {
        "at or below"
    } else {
        "at or above"
    };
    let with_unit = |value: f64| format!("{value} {}", quantity.unit()).trim_end().to_owned();
    format!(
        "    {}: caution {side} {}, stop {side} {}",
        quantity_name(quantity),
        with_unit(limit.caution_at),
        with_unit(limit.stop_at)
    )
}

fn quantity_name(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Mean => "mean wind",
        Quantity::Gust => "gust",
        Quantity::WaveHeight => "wave height",
        Quantity::Steepness => "steepness",
        Quantity::CapeWithRain => "CAPE with rain",
        Quantity::BerthCrosswind => "wind across the berth",
        Quantity::Visibility => "visibility",
        Quantity::WindChill => "wind chill",
        Quantity::WaterTemperature => "water",
        Quantity::DaylightMargin => "daylight after being alongside",
    }
}

fn session_line(session: &SessionRule, club: &Club) -> String {
    let name_of = |name: Option<&String>| name.map_or("?", String::as_str).to_owned();
    let repeat = session
        .recurrence
        .as_ref()
        .map_or(String::new(), |rule| format!(", then {rule}"));
    format!(
        "  {}: {}, {}, {}; first {} for {} min{repeat}",
        session.id,
        name_of(club.venues.get(session.venue).map(|venue| &venue.name)),
        name_of(club.boats.get(session.boat).map(|boat| &boat.name)),
        name_of(club.levels.get(session.level).map(|level| &level.name)),
        session.leaves.format("%a %Y-%m-%d %H:%M"),
        session.lasts.num_minutes()
    )
}

/// A count with its noun.
pub(crate) fn count(number: usize, noun: &str) -> String {
    format!("{number} {noun}{}", if number == 1 { "" } else { "s" })
}
