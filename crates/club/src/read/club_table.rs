//! Reads the club itself: name, short name, zone, when it decides.
//!
//! Owns: `[club]`. Must not know: the lists below it.

use super::Table;
use super::value::Value;
use crate::mistake::nearest;
use chrono::NaiveTime;
use chrono_tz::Tz;

/// The hour the club decides the evening before, where its file does not say (no source: common practice).
const DECIDES_AT: NaiveTime = match NaiveTime::from_hms_opt(18, 0, 0) {
    Some(time) => time,
    None => NaiveTime::MIN,
};

/// What `[club]` says.
pub(crate) struct ClubTable {
    pub(crate) name: String,
    pub(crate) slug: String,
    pub(crate) time_zone: Tz,
    pub(crate) contact: Option<String>,
    pub(crate) decides_at: NaiveTime,
    pub(crate) digest_at: Option<NaiveTime>,
    pub(crate) warnings_from: Option<String>,
    pub(crate) public: bool,
    pub(crate) sails: Option<(NaiveTime, NaiveTime)>,
}

/// Reads `[club]`. The zone comes apart, for sessions need it whatever else is wrong.
pub(crate) fn read_club(root: &mut Table<'_>) -> (Option<ClubTable>, Option<Tz>) {
    let Some(mut table) = root
        .required("club", "a table with the club's name, slug and time_zone")
        .and_then(|value| value.table())
    else {
        return (None, None);
    };
    let name = table
        .required("name", "the club's name")
        .and_then(|value| value.text());
    let slug = table
        .required("slug", "the club's short name in addresses")
        .and_then(|value| value.key());
    let time_zone = table.required(
        "time_zone",
        "the IANA name of the zone the session times are written in",
    );
    let time_zone = time_zone.and_then(|value| read_zone(&value));
    let contact = table.optional("contact").map(|value| value.text());
    let decides_at = table
        .optional("decides_at")
        .map_or(Some(DECIDES_AT), |value| value.time_of_day());
    let digest_at = table.optional("digest_at").map(|value| value.time_of_day());
    let warnings_from = table.optional("warnings_from").map(|value| value.text());
    // Said, not assumed: a file that says nothing shows nothing to strangers.
    let public = table
        .optional("public")
        .map_or(Some(false), |value| value.truth());
    let sails = read_sails(&mut table);
    table.finish();
    let club = || {
        Some(ClubTable {
            name: name?,
            slug: slug?,
            time_zone: time_zone?,
            contact: contact.flatten(),
            decides_at: decides_at?,
            // A wrong hour is a mistake already, and the file is not taken.
            digest_at: digest_at.flatten(),
            warnings_from: warnings_from.flatten(),
            public: public?,
            sails: sails?,
        })
    };
    (club(), time_zone)
}

/// The club's hours: both or neither; none only if they are wrong.
fn read_sails(table: &mut Table<'_>) -> Option<Option<(NaiveTime, NaiveTime)>> {
    let (from, to) = (table.optional("sails_from"), table.optional("sails_to"));
    match (from, to) {
        (None, None) => Some(None),
        (Some(from), Some(to)) => {
            let (opens, closes) = (from.time_of_day(), to.time_of_day());
            let (opens, closes) = (opens?, closes?);
            if closes <= opens {
                to.mistake(format!("after {}, sails_from", opens.format("%H:%M")));
                return None;
            }
            Some(Some((opens, closes)))
        }
        (Some(from), None) => {
            from.mistake("sails_to beside it");
            None
        }
        (None, Some(to)) => {
            to.mistake("sails_from beside it");
            None
        }
    }
}

fn read_zone(value: &Value<'_>) -> Option<Tz> {
    let name = value.raw_text().unwrap_or("");
    let zone = name.parse::<Tz>().ok();
    if zone.is_none() {
        let names = chrono_tz::TZ_VARIANTS.iter().map(|zone| zone.name());
        value.mistake(match nearest(name, names) {
            Some(near) => format!("an IANA time zone, perhaps \"{near}\""),
            None => "an IANA time zone, such as \"Atlantic/Madeira\"".to_owned(),
        });
    }
    zone
}
