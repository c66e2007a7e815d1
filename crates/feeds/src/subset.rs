//! Subset services: a server that cuts fields to an area before it sends them, and when that is worth asking it.
//!
//! Owns: the question put to such a service and what either way costs. Is given: an area. Must not know: servers' answers,
//! clubs.

use crate::feed::{Feed, StepFile};
use chrono::{DateTime, Utc};
use forecast::Member;
use seaway::LatLon;
use serde::Deserialize;
use std::collections::BTreeSet;

/// Octets of one answer's head and of one message beside its packed values.
const HEAD_OCTETS: f64 = 1_000.0;
const MESSAGE_OCTETS: f64 = 220.0;
/// Octets of a node's value: 16 bits, as the services pack them.
const NODE_OCTETS: f64 = 2.0;

/// A service that cuts a feed's files to an area.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Subset {
    /// Its address.
    pub base_url: String,
    /// Path and beginning of the question below that address, with the signs of a feed's paths.
    pub path: String,
    /// Requests in any minute that its operator bears with, at most.
    pub requests_per_minute: u32,
    /// Distance of nodes, degrees.
    pub spacing_deg: f64,
    /// Octets of one whole message, about: what a byte range costs instead.
    pub whole_message_octets: u64,
}

/// An area bounded by whole degrees, so that it stays the same while places move about a little.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Area {
    /// Northern bound, degrees north.
    pub north: i16,
    /// Southern bound, degrees north.
    pub south: i16,
    /// Western bound, degrees east, -180 to 180.
    pub west: i16,
    /// Eastern bound, degrees east, more than `west`.
    pub east: i16,
}

impl Area {
    /// The smallest area that holds every place and `margin_deg` around it; none without places, or where the places lie
    /// on both sides of the 180th meridian, which no service's area crosses.
    pub fn around(places: &[LatLon], margin_deg: f64) -> Option<Self> {
        let bounds = |of: fn(&LatLon) -> f64| {
            let values = || places.iter().map(of);
            let least = values().reduce(f64::min)? - margin_deg;
            let most = values().reduce(f64::max)? + margin_deg;
            (least.is_finite() && most.is_finite()).then_some((least.floor(), most.ceil()))
        };
        let (south, north) = bounds(|place| place.lat)?;
        let (west, east) = bounds(|place| place.lon)?;
        (west >= -180.0 && east <= 180.0).then_some(Self {
            north: north.min(90.0) as i16,
            south: south.max(-90.0) as i16,
            west: west as i16,
            east: east as i16,
        })
    }

    /// Nodes inside, bounds included.
    fn nodes(self, spacing_deg: f64) -> f64 {
        let across = |degrees: i16| f64::from(degrees) / spacing_deg + 1.0;
        across(self.north - self.south) * across(self.east - self.west)
    }
}

impl Subset {
    /// True if cutting to this area costs fewer octets than byte ranges of whole messages, for files of so many wanted
    /// messages each.
    pub fn is_cheaper(&self, area: Area, messages_a_file: usize) -> bool {
        let messages = messages_a_file as f64;
        let cut = HEAD_OCTETS + messages * (MESSAGE_OCTETS + NODE_OCTETS * area.nodes(self.spacing_deg));
        cut < messages * self.whole_message_octets as f64
    }
}

impl Feed {
    /// The question for one file's wanted fields in an area; none where the feed has no such service.
    pub(crate) fn subset_path(&self, run: DateTime<Utc>, file: &StepFile, area: Area) -> Option<String> {
        let subset = self.subset.as_ref()?;
        let mut path = self.filled(run, file.member, file.step, "", &subset.path);
        let due = || self.want.iter().filter(|want| want.is_due(file.step));
        let variables: BTreeSet<&str> = due().flat_map(|want| want.names()).collect();
        let levels: BTreeSet<String> = due().map(|want| want.level_text.replace(' ', "_")).collect();
        variables
            .iter()
            .for_each(|name| path += &format!("&var_{name}=on"));
        levels
            .iter()
            .for_each(|level| path += &format!("&lev_{level}=on"));
        let Area {
            north,
            south,
            west,
            east,
        } = area;
        path += &format!("&subregion=&toplat={north}&bottomlat={south}&leftlon={west}&rightlon={east}");
        Some(path)
    }

    /// What is wrong with the subset service's entry.
    pub(crate) fn subset_mistake(&self) -> Option<String> {
        let subset = self.subset.as_ref()?;
        if !subset.base_url.starts_with("https://") && !subset.base_url.starts_with("http://") {
            return Some("subset.base_url must begin with https:// or http://".into());
        }
        if subset.requests_per_minute == 0 || subset.whole_message_octets == 0 {
            return Some("subset.requests_per_minute and whole_message_octets must be at least 1".into());
        }
        if !(0.001..=90.0).contains(&subset.spacing_deg) {
            return Some("subset.spacing_deg must lie between 0.001 and 90".into());
        }
        if !self.index_kind.has_index() {
            return Some("subset needs a feed whose wanted quantities have level_text".into());
        }
        let path = self.filled(
            DateTime::UNIX_EPOCH,
            Member(0),
            forecast::Step(0),
            "",
            &subset.path,
        );
        let question = path.contains('?') && !path.contains(['{', '}', '#', ' ']) && !path.contains("..");
        (!question).then(|| format!("subset.path must be a path with a question (?) of known signs: {path}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{feed, instant};
    use forecast::Step;

    fn place(lat: f64, lon: f64) -> LatLon {
        LatLon { lat, lon }
    }

    // Source: the parameter names of NOAA's service as public programs use them (see the design text on data sources).
    #[test]
    fn the_question_names_fields_levels_and_area() {
        let (gfs, run) = (feed("gfs"), instant("2026-11-24T06:00:00Z"));
        let file = gfs.file(run, Member(0), Step(30));
        let area = Area::around(&[place(50.2, -5.1), place(50.4, -4.0)], 0.75).unwrap();
        let path = gfs.subset_path(run, &file, area).unwrap();
        let begins =
            "cgi-bin/filter_gfs_0p25.pl?dir=%2Fgfs.20261124%2F06%2Fatmos&file=gfs.t06z.pgrb2.0p25.f030&var_";
        assert!(path.starts_with(begins), "{path}");
        for part in [
            "&var_UGRD=on",
            "&var_GUST=on",
            "&lev_10_m_above_ground=on",
            "&lev_mean_sea_level=on",
            "&subregion=&toplat=52&bottomlat=49&leftlon=-6&rightlon=-3",
        ] {
            assert!(path.contains(part), "{path} lacks {part}");
        }
        assert!(
            !path.contains("var_LAND"),
            "the land share is of step 0 only: {path}"
        );
        assert_eq!(path.matches("var_TMP").count(), 1);
        assert!(feed("icon-eu").subset.is_none());
    }

    // No source: arithmetic of whole degrees.
    #[test]
    fn an_area_holds_every_place_and_its_margin() {
        let area = |places: &[LatLon]| Area::around(places, 0.5);
        let around = |north, south, west, east| {
            Some(Area {
                north,
                south,
                west,
                east,
            })
        };
        assert_eq!(area(&[place(43.5, -15.5)]), around(44, 43, -16, -15));
        assert_eq!(area(&[place(43.6, -15.4)]), around(45, 43, -16, -14));
        assert_eq!(area(&[place(89.9, 0.0)]), around(90, 89, -1, 1));
        assert_eq!(area(&[place(0.0, 179.9)]), None);
        assert_eq!(area(&[]), None);
        assert_eq!(area(&[place(f64::NAN, 0.0)]), None);
    }

    // No source: arithmetic of the costs above.
    #[test]
    fn few_places_are_cut_out_and_the_whole_world_is_not() {
        let subset = feed("gfs").subset.unwrap();
        let one = Area::around(&[place(43.5, -15.5)], 0.75).unwrap();
        assert!(subset.is_cheaper(one, 11));
        let world = Area::around(&[place(-60.0, -170.0), place(70.0, 170.0)], 0.75).unwrap();
        assert!(!subset.is_cheaper(world, 11));
    }
}
