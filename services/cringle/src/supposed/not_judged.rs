//! The columns of supposed hours that nothing was judged by, and why.
//!
//! Owns: that account. Must not know: how anything was judged.

use super::Column;
use super::answer::NotJudged;
use super::judged::Question;
use club::Quantity;

const NO_LIMIT: &str = "no limit of the level speaks of it";
const NO_DIRECTION: &str = "not in every row: the hardest factors count";
const NO_PAIR: &str = "thunder needs cape_j_kg and rain_mm_h together";
const SEEN: &str = "fog is told by the visibility where it is known";
const NO_BREEZE: &str = "the venue has no [venues.sea_breeze]";
const WIND_SAYS: &str = "without from_deg in every row the sea comes with the wind";
const NO_WAVE_RULE: &str = "the venue has no stream and no entrance open_to";
const NO_MODEL: &str = "the venue's sea is what the wind raises over its fetch";

/// The columns that nothing was judged by.
pub fn not_judged(question: &Question<'_>) -> Vec<NotJudged> {
    let told = |column: &Column| question.supposed.has(*column) || *column == Column::From;
    Column::ALL
        .into_iter()
        .filter(told)
        .filter_map(|column| {
            Some(NotJudged {
                column: column.name(),
                why: why(question, column)?,
            })
        })
        .collect()
}

fn why(question: &Question<'_>, column: Column) -> Option<&'static str> {
    let venue = question.venue;
    let has = |column| question.supposed.has(column);
    let unlimited = |quantity| !question.level.limits.contains_key(&quantity);
    let directed = !question.supposed.lacks_direction();
    let streams = has(Column::Stream) || venue.stream.is_some();
    let alone = venue.fetch.as_ref().is_some_and(|fetch| fetch.alone);
    match column {
        Column::From => (!directed).then_some(NO_DIRECTION),
        Column::Land => venue.sea_breeze.is_none().then_some(NO_BREEZE),
        Column::Wave | Column::WavePeriod | Column::WaveFrom if alone => Some(NO_MODEL),
        Column::WavePeriod => (unlimited(Quantity::Steepness) && !streams).then_some(NO_LIMIT),
        Column::WaveFrom if !directed => Some(WIND_SAYS),
        Column::WaveFrom => {
            let open_to = venue
                .entrance
                .as_ref()
                .is_some_and(|entrance| entrance.open_to.is_some());
            (!streams && !open_to).then_some(NO_WAVE_RULE)
        }
        // Rain also tells a front, where it is known how the wind turns, and rules a sea breeze out.
        Column::Rain if directed || venue.sea_breeze.is_some() => None,
        Column::Cape | Column::Rain => {
            let alone = !(has(Column::Cape) && has(Column::Rain));
            (alone && unlimited(Quantity::CapeWithRain)).then_some(NO_PAIR)
        }
        Column::Dew => has(Column::Visibility).then_some(SEEN),
        _ => None,
    }
}
