//! The mail of the day: which sessions it has, and which of them in full.

use super::letter::{Block, Letter};
use super::pictures::Pictures;
use super::session::{Shows, call, in_full, in_short};
use super::{MailLinks, Standing, foot, subject};
use crate::shown::{Shown, in_order_of_leaving};
use crate::wording::{day_long, from_to};

/// Sessions in full, at most: a longer mail is cut by some of its readers, and read by none.
const IN_FULL: usize = 6;

/// None without a session.
pub(super) fn letter(standing: Standing<'_>, links: &MailLinks<'_>, pictures: &Pictures) -> Option<Letter> {
    let ordered = in_order_of_leaving(standing.advisories, standing.decisions, standing.now);
    let mut shows = Shows::new(pictures);
    let mut blocks = Vec::new();
    let mut days = ordered.chunk_by(|one, next| one.date() == next.date());
    let first_day = days.next()?;
    blocks.push(Block::Title(day(first_day)));
    if first_day.len() > 1 {
        blocks.extend(first_day.iter().map(|shown| at_a_glance(*shown)));
    }
    for (number, shown) in first_day.iter().enumerate() {
        blocks.extend(if number < IN_FULL {
            in_full(*shown, links, &mut shows)
        } else {
            in_short(*shown, links, &mut shows)
        });
    }
    for sessions in days {
        blocks.push(Block::Day(day(sessions)));
        for shown in sessions {
            blocks.extend(in_short(*shown, links, &mut shows));
        }
    }
    blocks.extend(foot::of_subscriber(standing, links));
    Some(Letter {
        subject: subject::digest(&ordered),
        club: standing.club.name.clone(),
        blocks,
        pictures: shows.pictures,
    })
}

/// Of a day with several sessions, what each is, before all that is to be said of the first: "09:30 to 17:00: Marginal,
/// Dunlin, First days. The club decided off."
fn at_a_glance(shown: Shown<'_>) -> Block {
    let session = &shown.advisory.session;
    let decided = shown.decision.map(|decision| decision.decided.word());
    Block::Item {
        when: from_to(session.leaves, session.alongside),
        title: call(shown),
        rest: format!(", {}, {}.", session.boat.name, session.level.name),
        note: decided.map_or_else(String::new, |word| format!("The club decided {word}.")),
    }
}

fn day(sessions: &[Shown<'_>]) -> String {
    sessions
        .first()
        .map_or_else(String::new, |shown| day_long(shown.advisory.session.leaves))
}
