//! Run and step, told from a producer's path.
//!
//! Owns: the four ways producers write them. Must not know: whether such a file is there.

use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};

/// The run and the step a path is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// Reference time of the run.
    pub run: DateTime<Utc>,
    /// Hours from the run to the file's step.
    pub step_hours: u32,
}

impl Stamp {
    /// Reads a decoded path; none where it names no run. A file without a step is of step 0.
    pub fn of(path: &str) -> Option<Self> {
        let segments: Vec<&str> = path.split('/').filter(|segment| !segment.is_empty()).collect();
        let name = segments.last()?;
        let run = run_of_folders(&segments).or_else(|| run_of_name(name))?;
        Some(Self {
            run,
            step_hours: step_of_name(name).unwrap_or(0),
        })
    }
}

/// `gfs.YYYYMMDD/HH`, `gefs.YYYYMMDD/HH`, `YYYYMMDD/HHz`, `r/YYYY-MM-DDTHH:MM`.
fn run_of_folders(segments: &[&str]) -> Option<DateTime<Utc>> {
    segments.windows(2).find_map(|pair| {
        let (folder, below) = (pair[0], pair[1]);
        if folder == "r" {
            return NaiveDateTime::parse_from_str(below, "%Y-%m-%dT%H:%M")
                .ok()
                .map(|run| run.and_utc());
        }
        let date = folder.rsplit('.').next()?;
        let hour = below.strip_suffix('z').unwrap_or(below);
        run_of_digits(date, hour)
    })
}

/// `.._YYYYMMDDHH_NNN_..`.
fn run_of_name(name: &str) -> Option<DateTime<Utc>> {
    name.split('_')
        .filter(|part| part.len() == 10 && part.is_ascii())
        .find_map(|part| run_of_digits(&part[..8], &part[8..]))
}

fn run_of_digits(date: &str, hour: &str) -> Option<DateTime<Utc>> {
    if !all_digits(date, 8) || !all_digits(hour, 2) {
        return None;
    }
    let date = NaiveDate::parse_from_str(date, "%Y%m%d").ok()?;
    Some(date.and_hms_opt(hour.parse().ok()?, 0, 0)?.and_utc())
}

/// `.fFFF`, `-Nh-`, `PTHHHH`, `_YYYYMMDDHH_NNN`.
fn step_of_name(name: &str) -> Option<u32> {
    let noaa = name
        .split('.')
        .filter_map(|part| part.strip_prefix('f'))
        .find(|part| all_digits(part, 3));
    let ecmwf = || {
        let mut parts = name.split('-').filter_map(|part| part.strip_suffix('h'));
        parts.find(|part| all_digits(part, part.len()))
    };
    let native = || name.strip_prefix("PT")?.split('H').next();
    let regular = || {
        let mut parts = name.split('_').skip_while(|part| !all_digits(part, 10));
        parts.nth(1)
    };
    let step = noaa.or_else(ecmwf).or_else(native).or_else(regular)?;
    step.split('.').next()?.parse().ok()
}

fn all_digits(text: &str, length: usize) -> bool {
    length > 0 && text.len() == length && text.bytes().all(|octet| octet.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source of the paths: the producers' templates as design text data-sources.md quotes them.
    #[test]
    fn run_and_step_are_told_from_every_producers_path() {
        let cases = [
            (
                "/gfs.20261124/06/atmos/gfs.t06z.pgrb2.0p25.f030.idx",
                "2026-11-24T06:00:00Z",
                30,
            ),
            (
                "/gfs.20261124/06/wave/gridded/gfswave.t06z.global.0p25.f102.grib2",
                "2026-11-24T06:00:00Z",
                102,
            ),
            (
                "/gefs.20261124/18/atmos/pgrb2sp25/gep07.t18z.pgrb2s.0p25.f003",
                "2026-11-24T18:00:00Z",
                3,
            ),
            (
                "/20261124/00z/ifs/0p25/oper/20261124000000-24h-oper-fc.grib2",
                "2026-11-24T00:00:00Z",
                24,
            ),
            (
                "/weather/nwp/v1/m/icon-eu/p/VMAX_10M/r/2026-11-24T06:00/s/PT030H00M.grib2",
                "2026-11-24T06:00:00Z",
                30,
            ),
            (
                "/m/icon-d2-eps/p/U_10M/r/2026-11-24T06:00/e/07/s/PT012H00M.grib2",
                "2026-11-24T06:00:00Z",
                12,
            ),
            (
                "/icon-eu/grib/00/u_10m/icon-eu_europe_regular-lat-lon_single-level_2026112400_030_U_10M.grib2.bz2",
                "2026-11-24T00:00:00Z",
                30,
            ),
            (
                "/ewam/grib/00/swh/EWAM_SWH_2026112400_030.grib2.bz2",
                "2026-11-24T00:00:00Z",
                30,
            ),
        ];
        for (path, run, step_hours) in cases {
            let run = run.parse().unwrap();
            assert_eq!(Stamp::of(path), Some(Stamp { run, step_hours }), "{path}");
        }
        for path in [
            "/",
            "/README.md",
            "/gfs.20261324/06/x.f030",
            "/gfs.20261124/xx/y",
            "/é_ééééé_",
        ] {
            assert_eq!(Stamp::of(path), None, "{path}");
        }
    }
}
