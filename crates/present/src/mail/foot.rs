//! What every mail ends with: the skipper decides, warnings, runs and producers, the club's contact, and why it has come.

use super::letter::Block;
use super::{MailLinks, Standing};
use crate::html::foot::{Foot, foot};
use crate::wording::ended;
use advisory::document::{Advisory, ClubName};

/// The foot of a mail to a subscriber.
pub(super) fn of_subscriber(standing: Standing<'_>, links: &MailLinks<'_>) -> Vec<Block> {
    let mut blocks = of_club(standing.club, standing.advisories);
    let link = |words: &str, address: &str| Block::Link {
        words: words.to_owned(),
        address: address.to_owned(),
    };
    blocks.extend(
        links
            .public
            .map(|public| link("The club’s board", &public.board())),
    );
    blocks.push(small(format!(
        "You get this because this address is subscribed to the mail of {}.",
        standing.club.name
    )));
    blocks.push(link("Choices", &links.manage));
    blocks.push(link("Stop all mail", &links.unsubscribe));
    blocks
}

/// The foot of any mail of the club.
pub(super) fn of_club(club: &ClubName, advisories: &[Advisory]) -> Vec<Block> {
    blocks(foot(club, advisories))
}

/// The same of a mail that tells of no session; where warnings are found is the club's to say.
pub(super) fn without_advisory(club: &ClubName, warnings: &str) -> Vec<Block> {
    blocks(Foot {
        warnings: ended(warnings),
        ..foot(club, &[])
    })
}

fn blocks(foot: Foot) -> Vec<Block> {
    let (decides, ranks) = foot.caution;
    let caution = Block::Small(decides, format!("{ranks} {}", foot.warnings));
    [Block::Foot, caution]
        .into_iter()
        .chain(foot.lines.into_iter().map(small))
        .collect()
}

fn small(words: String) -> Block {
    Block::Small(String::new(), words)
}
