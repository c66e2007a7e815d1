//! Where a feed's files lie: the templates of the catalogue filled in.
//!
//! Owns: the signs of a template and the paths of a part. Must not know: addresses, indexes, what is there.

use crate::expected::Expected;
use crate::feed::{CoordinateField, Feed, IndexKind, Want};
use crate::index::ByteRange;
use chrono::{DateTime, Utc};
use forecast::{Member, Step};

/// The file of one member and step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StepFile {
    /// The member.
    pub member: Member,
    /// The step.
    pub step: Step,
    /// Its path below the base address.
    pub path: String,
    /// Its index's path; the file's own where there is no index. Its presence tells that the step is there.
    pub index_path: String,
}

/// A field that tells where the cells of an unstructured mesh lie.
#[derive(Clone, Debug, PartialEq)]
pub struct CoordinateMessage {
    /// Path of its file below the base address.
    pub file: String,
    /// Where it lies in the file.
    pub range: ByteRange,
    /// What it must turn out to be.
    pub expected: Expected,
}

impl Feed {
    /// The files of a part, by member, then step. Where a file holds one field, the first wanted one stands for the step.
    pub fn files_of_part(&self, run: DateTime<Utc>, part: u16) -> Vec<StepFile> {
        let steps = self.steps_of_run_part(run, part);
        let files = |member| steps.iter().map(move |step| self.file(run, member, *step));
        self.all_members().into_iter().flat_map(files).collect()
    }

    /// The file of one member and step. Where a file holds one field, it is that of the first wanted one.
    pub fn file(&self, run: DateTime<Utc>, member: Member, step: Step) -> StepFile {
        let due = self.want.iter().find(|want| want.is_due(step));
        let Some(want) = due.or(self.want.first()) else {
            return self.file_of(run, member, step, "", &self.path);
        };
        self.message_file(run, member, step, want)
    }

    /// The file that holds a wanted message.
    pub fn message_file(&self, run: DateTime<Utc>, member: Member, step: Step, want: &Want) -> StepFile {
        let template = want.path.as_ref().unwrap_or(&self.path);
        self.file_of(run, member, step, &want.variable, template)
    }

    /// The indexes of a part's files, each once; none where files have no index.
    pub fn index_paths_of_part(&self, run: DateTime<Utc>, part: u16) -> Vec<String> {
        if !self.index_kind.has_index() {
            return Vec::new();
        }
        let files = self.files_of_part(run, part).into_iter();
        each_once(files.map(|file| file.index_path))
    }

    /// The files of a part that hold wanted messages, each once.
    pub fn data_paths_of_part(&self, run: DateTime<Utc>, part: u16) -> Vec<String> {
        let files = self.files_of_part(run, part).into_iter();
        if self.index_kind.has_index() {
            return each_once(files.map(|file| file.path));
        }
        let wanted = |file: StepFile| {
            let due = self.want.iter().filter(move |want| want.is_due(file.step));
            due.map(move |want| self.message_file(run, file.member, file.step, want).path)
        };
        each_once(files.flat_map(wanted))
    }

    /// The fields that tell where the cells lie, latitude first; none where the messages say it themselves.
    pub fn coordinate_messages(&self, run: DateTime<Utc>) -> Option<[CoordinateMessage; 2]> {
        let coordinates = self.coordinates.as_ref()?;
        let message = |field: &CoordinateField| CoordinateMessage {
            file: self
                .file_of(run, Member(0), Step(0), &field.variable, &self.path)
                .path,
            range: ByteRange::WHOLE_FILE,
            expected: Expected {
                codes: field.codes.clone(),
                surfaces: field.surfaces.clone(),
                level: None,
                reference: run,
                valid: run,
                interval: None,
                member: None,
            },
        };
        Some([message(&coordinates.latitude), message(&coordinates.longitude)])
    }

    fn file_of(
        &self,
        run: DateTime<Utc>,
        member: Member,
        step: Step,
        variable: &str,
        path: &str,
    ) -> StepFile {
        let fill = |template: &str| self.filled(run, member, step, variable, template);
        let path = fill(path);
        let index_path = match (&self.index_path, self.index_kind) {
            (_, IndexKind::OneFieldAFile) => path.clone(),
            (Some(template), _) => fill(template),
            (None, _) => format!("{path}{}", self.index_suffix),
        };
        StepFile {
            member,
            step,
            path,
            index_path,
        }
    }

    /// A template of the catalogue filled in.
    pub(crate) fn filled(
        &self,
        run: DateTime<Utc>,
        member: Member,
        step: Step,
        variable: &str,
        template: &str,
    ) -> String {
        // The member first: its name may hold signs of its own.
        let name = self
            .member_name(member)
            .map_or(String::new(), |member| member.name);
        template
            .replace("{MEMBER}", &name)
            .replace("{YYYYMMDD}", &run.format("%Y%m%d").to_string())
            .replace("{YYYY-MM-DD}", &run.format("%Y-%m-%d").to_string())
            .replace("{HH}", &run.format("%H").to_string())
            .replace("{FFF}", &format!("{:03}", step.0))
            .replace("{S}", &step.0.to_string())
            .replace("{VARIABLE}", variable)
            .replace("{variable}", &variable.to_lowercase())
    }
}

/// A path of an address as the path of a file: `%3A` becomes a colon. None if that leaves no text.
pub fn decoded_path(path: &str) -> Option<String> {
    let mut octets = Vec::with_capacity(path.len());
    let mut rest = path.as_bytes();
    while let Some((first, after)) = rest.split_first() {
        let (octet, after) = match (*first, after) {
            (b'%', [high, low, after @ ..]) => (16 * digit(*high)? + digit(*low)?, after),
            (b'%', _) => return None,
            (other, after) => (other, after),
        };
        octets.push(octet);
        rest = after;
    }
    String::from_utf8(octets).ok()
}

fn digit(octet: u8) -> Option<u8> {
    u8::try_from(char::from(octet).to_digit(16)?).ok()
}

fn each_once(paths: impl Iterator<Item = String>) -> Vec<String> {
    let mut seen = std::collections::HashSet::new();
    paths.filter(|path| seen.insert(path.clone())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{feed, instant};
    use forecast::Parameter;

    fn path(name: &str, member: u16) -> StepFile {
        feed(name).file(instant("2026-11-24T06:00:00Z"), Member(member), Step(30))
    }

    #[test]
    fn paths_of_noaa() {
        // Source: example paths of NOAA's public buckets, run of 24 November 2026, 06 UTC.
        let gfs = path("gfs", 0);
        assert_eq!(gfs.path, "gfs.20261124/06/atmos/gfs.t06z.pgrb2.0p25.f030");
        assert_eq!(gfs.index_path, format!("{}.idx", gfs.path));
        assert_eq!(
            path("gfs-wave", 0).path,
            "gfs.20261124/06/wave/gridded/gfswave.t06z.global.0p25.f030.grib2"
        );
        assert_eq!(
            path("gefs", 7).path,
            "gefs.20261124/06/atmos/pgrb2sp25/gep07.t06z.pgrb2s.0p25.f030"
        );
        assert_eq!(
            path("gefs", 0).path,
            "gefs.20261124/06/atmos/pgrb2sp25/gec00.t06z.pgrb2s.0p25.f030"
        );
    }

    #[test]
    fn paths_of_ecmwf() {
        // Source: the file names of ECMWF's open data description; steps are not padded.
        for (name, member, tail) in [
            ("ecmwf-ifs", 0, "ifs/0p25/oper/20261124060000-30h-oper-fc"),
            ("ecmwf-wave", 0, "ifs/0p25/wave/20261124060000-30h-wave-fc"),
            ("ecmwf-ens", 7, "ifs/0p25/enfo/20261124060000-30h-enfo-ef"),
            ("ecmwf-ens", 0, "ifs/0p25/oper/20261124060000-30h-oper-fc"),
            (
                "ecmwf-aifs",
                0,
                "aifs-single/0p25/oper/20261124060000-30h-oper-fc",
            ),
        ] {
            let file = path(name, member);
            assert_eq!(file.path, format!("20261124/06z/{tail}.grib2"));
            assert_eq!(file.index_path, format!("20261124/06z/{tail}.index"));
        }
        let six = feed("ecmwf-ifs")
            .file(instant("2026-11-24T06:00:00Z"), Member(0), Step(6))
            .path;
        assert!(six.ends_with("20261124060000-6h-oper-fc.grib2"), "{six}");
    }

    #[test]
    fn paths_of_dwd() {
        // Source: DWD's directory listings and announcements of its new tree.
        let run = instant("2026-11-24T06:00:00Z");
        let of = |name: &str, parameter, step| {
            let feed = feed(name);
            let file = feed.message_file(run, Member(0), Step(step), feed.wanted(parameter).unwrap());
            assert_eq!(file.path, file.index_path);
            file.path
        };
        assert_eq!(
            of("icon-eu-native", Parameter::Gust, 30),
            "weather/nwp/v1/m/icon-eu/p/VMAX_10M/r/2026-11-24T06%3A00/s/PT030H00M.grib2"
        );
        assert_eq!(
            of("icon-d2-native", Parameter::WindU, 7),
            "weather/nwp/v1/m/icon-d2/p/U_10M/r/2026-11-24T06%3A00/s/PT007H00M.grib2"
        );
        assert_eq!(
            of("icon-eu", Parameter::Gust, 30),
            "weather/nwp/icon-eu/grib/06/vmax_10m/icon-eu_europe_regular-lat-lon_single-level_2026112406_030_VMAX_10M.grib2.bz2"
        );
        assert_eq!(
            of("icon-eu", Parameter::LandShare, 0),
            "weather/nwp/icon-eu/grib/06/fr_land/icon-eu_europe_regular-lat-lon_time-invariant_2026112406_FR_LAND.grib2.bz2"
        );
        assert_eq!(
            of("ewam", Parameter::WaveHeight, 30),
            "weather/maritime/wave_models/ewam/grib/06/swh/EWAM_SWH_2026112406_030.grib2.bz2"
        );
    }

    #[test]
    fn a_mesh_has_its_coordinates_at_step_0() {
        // Source: DWD's new tree; 0/191/1 and 0/191/2 are latitude and longitude (WMO code table 4.2).
        let run = instant("2026-11-24T06:00:00Z");
        let [latitude, longitude] = feed("icon-eu-native").coordinate_messages(run).unwrap();
        let path = |name| format!("weather/nwp/v1/m/icon-eu/p/{name}/r/2026-11-24T06%3A00/s/PT000H00M.grib2");
        assert_eq!((latitude.file, longitude.file), (path("CLAT"), path("CLON")));
        assert_eq!(latitude.expected.codes, [[0, 191, 1]]);
        assert_eq!(longitude.expected.codes, [[0, 191, 2]]);
        assert!(feed("icon-eu").coordinate_messages(run).is_none());
    }

    #[test]
    fn members_in_one_file_share_its_index() {
        // No source: arithmetic. Steps 15, 18, 21 and 24 of the control and of the file of all members.
        let (feed, run) = (feed("ecmwf-ens"), instant("2026-11-24T06:00:00Z"));
        assert_eq!(feed.files_of_part(run, 1).len(), 4 * 51);
        assert_eq!(feed.index_paths_of_part(run, 1).len(), 8);
        assert_eq!(feed.data_paths_of_part(run, 1).len(), 8);
    }

    #[test]
    fn one_field_a_file_means_a_path_for_each() {
        // No source: ten quantities at 12 steps; the land share is of step 0, gust and rain begin with step 1.
        let (feed, run) = (feed("icon-eu"), instant("2026-11-24T06:00:00Z"));
        let wanted = feed.want.len();
        assert!(feed.index_paths_of_part(run, 0).is_empty());
        assert_eq!(feed.data_paths_of_part(run, 1).len(), 12 * (wanted - 1));
        assert_eq!(feed.data_paths_of_part(run, 0).len(), 13 * (wanted - 1) - 2 + 1);
    }

    #[test]
    fn octets_of_a_path_are_decoded() {
        // Source: RFC 3986, section 2.1.
        assert_eq!(
            decoded_path("r/2026-11-24T06%3A00/s").as_deref(),
            Some("r/2026-11-24T06:00/s")
        );
        assert_eq!(decoded_path("%2e%2E/x").as_deref(), Some("../x"));
        for wrong in ["%", "a%3", "%zz", "%FF"] {
            assert_eq!(decoded_path(wrong), None, "{wrong}");
        }
    }
}
