//! The mail of the day: which sessions it has, and which of them in full.

use super::letter::{Block, Letter};
use super::pictures::Pictures;
use super::session::{Shows, in_full, in_short};
use super::{MailLinks, Standing, foot, subject};
use crate::shown::{Shown, in_order_of_leaving};
use crate::wording::day_long;

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

fn day(sessions: &[Shown<'_>]) -> String {
    sessions
        .first()
        .map_or_else(String::new, |shown| day_long(shown.advisory.session.leaves))
}
