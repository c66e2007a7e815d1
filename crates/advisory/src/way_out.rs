//! The way out of a marginal or no-go call: asked of the rules, other venues included, and said in words.
//!
//! Owns: which other venues are asked, and the sentence. Must not know: how a way out is looked for.

use crate::document::{CallWord, WayOut};
use crate::inputs::Inputs;
use crate::make::{conditions_of, sun_on};
use crate::voices::Voices;
use crate::words::{hour_minute, local};
use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use club::{Club, Venue};
use conditions::VenueConditions;
use rules::way_out::find_way_out;
use rules::{Forecasts, Offered, OtherVenue, Outing, Verdict, WayOutKind};

/// A way out, other venues of the club included.
pub(crate) fn way_out_for(
    inputs: &Inputs,
    club: &Club,
    outing: &Outing<'_>,
    verdict: &Verdict,
    forecasts: &Forecasts<'_>,
    now: DateTime<Utc>,
) -> Option<rules::WayOut> {
    let needed = matches!(verdict.call, rules::Call::Marginal | rules::Call::NoGo);
    let near = if needed {
        club.venues_near(outing.venue)
    } else {
        Vec::new()
    };
    let there: Vec<(usize, &Venue, VenueConditions)> = near
        .into_iter()
        .map(|index| (index, &club.venues[index]))
        .map(|(index, venue)| (index, venue, conditions_of(inputs, club, venue, now)))
        .collect();
    let voices: Vec<Voices<'_>> = there
        .iter()
        .map(|(_, _, conditions)| Voices::of(conditions))
        .collect();
    let venues: Vec<OtherVenue<'_>> = there
        .iter()
        .zip(&voices)
        .map(|(&(index, venue, _), voices)| OtherVenue {
            index,
            venue,
            sun: sun_on(venue, outing.leaves, club.time_zone),
            forecasts: voices.forecasts(),
        })
        .collect();
    let offered = Offered {
        boats: &club.boats,
        venues: &venues,
    };
    find_way_out(outing, verdict.call, offered, forecasts, now)
}

/// A way out as the document has it.
pub fn way_out_of(found: &rules::WayOut, club: &Club, zone: Tz) -> WayOut {
    let (leaves, alongside) = (local(found.leaves, zone), local(found.alongside, zone));
    let (kind, title) = match found.kind {
        WayOutKind::Shorter => ("shorter", format!("Back by {}", hour_minute(alongside))),
        WayOutKind::Earlier => (
            "earlier",
            format!("{} to {} instead", hour_minute(leaves), hour_minute(alongside)),
        ),
        WayOutKind::Later => (
            "later",
            format!("{} to {} instead", hour_minute(leaves), hour_minute(alongside)),
        ),
        WayOutKind::AnotherVenue { venue } => (
            "another-venue",
            club.venues
                .get(venue)
                .map_or_else(String::new, |venue| format!("Sail at {}", venue.name)),
        ),
        WayOutKind::AnotherBoat { boat } => (
            "another-boat",
            club.boats
                .get(boat)
                .map_or_else(String::new, |boat| format!("Take {}", boat.name)),
        ),
    };
    let call = CallWord::from(found.call);
    let words = format!(
        "then it is {}",
        if call == CallWord::Go { "a go" } else { "marginal" }
    );
    WayOut {
        kind: kind.to_owned(),
        title,
        words,
        leaves,
        alongside,
        call,
    }
}
