//! The question put to the subset service, from the query of its address.
//!
//! Source of the names: ../shared/design/data-sources.md, section 3.

use crate::request::Request;
use percent_encoding::percent_decode_str;

/// A box by its bounds, degrees, all of them inside it. It may cross any meridian: it goes from west to east.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Region {
    pub north: f64,
    pub south: f64,
    pub west: f64,
    pub east: f64,
}

/// What is asked of the service.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Question {
    /// Decoded path of the file.
    pub path: String,
    variables: Vec<String>,
    levels: Vec<String>,
    all_variables: bool,
    all_levels: bool,
    /// The whole grid where none is given.
    pub region: Option<Region>,
}

impl Question {
    /// Whether a request is for the service, whatever it asks.
    pub fn is_for_service(request: &Request) -> bool {
        let name = request.path.strip_prefix("/cgi-bin/filter_");
        name.is_some_and(|name| name.ends_with(".pl") && !name.contains('/'))
    }

    /// The question of a request for the service; none where it names no file or its box is none.
    pub fn of(request: &Request) -> Option<Self> {
        if !Self::is_for_service(request) {
            return None;
        }
        let pairs: Vec<(String, String)> = request.query.as_deref()?.split('&').filter_map(pair).collect();
        let value = |name: &str| {
            let found = pairs.iter().find(|(key, _)| key == name);
            found.map(|(_, value)| value.as_str())
        };
        let listed = |prefix: &str| -> Vec<String> {
            let names = pairs.iter().filter_map(|(key, _)| key.strip_prefix(prefix));
            names.map(str::to_owned).collect()
        };
        let region = match value("subregion") {
            None => None,
            Some(_) => {
                let degrees = |name: &str| {
                    value(name)?
                        .parse::<f64>()
                        .ok()
                        .filter(|degrees| degrees.is_finite())
                };
                Some(Region {
                    north: degrees("toplat")?,
                    south: degrees("bottomlat")?,
                    west: degrees("leftlon")?,
                    east: degrees("rightlon")?,
                })
            }
        };
        let folder = value("dir")?.trim_matches('/');
        Some(Self {
            path: format!("/{folder}/{}", value("file")?),
            variables: listed("var_"),
            levels: listed("lev_"),
            all_variables: value("all_var").is_some(),
            all_levels: value("all_lev").is_some(),
            region,
        })
    }

    /// Whether a line of an `.idx` is of a record that is asked for.
    pub fn wants(&self, line: &str) -> bool {
        let mut fields = line.split(':').skip(3);
        let (Some(variable), Some(level)) = (fields.next(), fields.next()) else {
            return false;
        };
        let level = level.replace(' ', "_");
        (self.all_variables || self.variables.iter().any(|wanted| wanted == variable))
            && (self.all_levels || self.levels.contains(&level))
    }
}

fn pair(text: &str) -> Option<(String, String)> {
    let decoded = |text: &str| Some(percent_decode_str(text).decode_utf8().ok()?.into_owned());
    let (key, value) = text.split_once('=')?;
    Some((decoded(key)?, decoded(value)?))
}
