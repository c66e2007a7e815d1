//! What is wrong with a catalogue entry by itself, in words for whoever wrote it.

use crate::feed::{Feed, GustKind, IndexKind, Want, WantKind};
use chrono::DateTime;
use forecast::{Member, Parameter, Step};

/// How an address may begin.
const SCHEMES: [&str; 3] = ["https://", "http://", "file://"];

impl Feed {
    /// The first mistake of the entry.
    pub(crate) fn mistake(&self) -> Option<String> {
        (self.address_mistake())
            .or_else(|| self.schedule_mistake())
            .or_else(|| self.index_mistake())
            .or_else(|| self.gust_mistake())
            .or_else(|| self.want.iter().find_map(|want| self.want_mistake(want)))
            .or_else(|| self.path_mistake())
            .or_else(|| self.subset_mistake())
    }

    fn address_mistake(&self) -> Option<String> {
        let known = SCHEMES.iter().any(|scheme| self.base_url.starts_with(scheme));
        // What was found is not quoted: an address may hold a password.
        (!known).then(|| format!("base_url must begin with {}", SCHEMES.join(", ")))
    }

    fn schedule_mistake(&self) -> Option<String> {
        let ranges = self.steps.iter();
        let impossible = ranges
            .into_iter()
            .any(|range| range.every == 0 || range.first > range.last);
        if impossible || !self.all_steps().is_sorted_by(|a, b| a < b) || self.steps.is_empty() {
            return Some("steps must rise, each range with first <= last and every >= 1".into());
        }
        if self.part_hours == 0 {
            return Some("part_hours must be at least 1".into());
        }
        if self.cycles.is_empty() || self.cycles.iter().any(|hour| *hour > 23) {
            return Some("cycles must name hours of the day, 0 to 23".into());
        }
        let short = self.short_runs.iter().flat_map(|short| &short.cycles);
        if let Some(cycle) = short.into_iter().find(|cycle| !self.cycles.contains(cycle)) {
            return Some(format!("short_runs names {cycle}, which is not among the cycles"));
        }
        if self.stale_after_min < self.given_up_after_min || self.given_up_after_min < self.usual_delay_min {
            return Some("usual_delay_min, given_up_after_min and stale_after_min must not fall".into());
        }
        None
    }

    fn index_mistake(&self) -> Option<String> {
        let named = usize::from(!self.index_suffix.is_empty()) + usize::from(self.index_path.is_some());
        if named != usize::from(self.index_kind.has_index()) {
            return Some(
                "a file's index needs index_suffix or index_path; a file without index has neither".into(),
            );
        }
        let numbers = self
            .members
            .iter()
            .filter(|_| self.index_kind == IndexKind::EcmwfIndex);
        let mut numbers = numbers.map(|members| members.perturbed.index_tail.replace("{N}", "1"));
        if numbers.any(|number| number.parse::<u16>().is_err()) {
            return Some("index_tail of perturbed members must be their number in the index, as {N}".into());
        }
        None
    }

    fn gust_mistake(&self) -> Option<String> {
        let kind = self.wanted(Parameter::Gust).map(|want| match want.kind {
            WantKind::Maximum => GustKind::IntervalMaximum,
            _ => GustKind::Instant,
        });
        (kind != self.gust)
            .then(|| "gust must say what the wanted gust is: instant, interval-maximum, or none".into())
    }

    fn want_mistake(&self, want: &Want) -> Option<String> {
        let name = want.parameter;
        let wrong = |reason: &str| Some(format!("{name}: {reason}"));
        if self.want.iter().filter(|other| other.parameter == name).count() > 1 {
            return wrong("it is wanted twice");
        }
        if want.codes.is_empty() || want.surfaces.is_empty() || want.variable.is_empty() {
            return wrong("variable, codes and surfaces must each name something");
        }
        if want.kind == WantKind::Bucket && self.bucket_hours.is_none() {
            return wrong("a wanted bucket needs bucket_hours");
        }
        let windows = &want.window_hours;
        if (want.kind == WantKind::Maximum) == windows.is_empty() || windows.contains(&0) {
            return wrong("a maximum needs window_hours of at least 1 h; nothing else has them");
        }
        let factors = want.scale.iter();
        if (factors.into_iter()).any(|scale| !want.codes.contains(&scale.codes) || !scale.factor.is_normal())
        {
            return wrong("scale must name one of the codes and a factor that is not 0");
        }
        if self.index_kind.has_index() == want.level_text.is_empty() {
            return wrong("level_text is needed where there is an index, and only there");
        }
        if self.index_kind.has_index() && want.path.is_some() {
            return wrong("a path of its own is for files that hold one field");
        }
        None
    }

    fn path_mistake(&self) -> Option<String> {
        let run = DateTime::UNIX_EPOCH;
        let last_member = self.all_members().last().copied().unwrap_or(Member(0));
        let paths = [Member(0), last_member].into_iter().flat_map(|member| {
            let files = self
                .want
                .iter()
                .map(move |want| self.message_file(run, member, Step(0), want));
            files.flat_map(|file| [file.path, file.index_path])
        });
        let coordinates = self
            .coordinate_messages(run)
            .into_iter()
            .flatten()
            .map(|message| message.file);
        for path in paths.chain(coordinates) {
            if path.contains(['{', '}']) {
                return Some(format!("path holds a sign the program does not know: {path}"));
            }
            if path.split('/').any(|part| matches!(part, "" | "." | "..")) {
                return Some(format!(
                    "path must lead down from the address, part by part: {path}"
                ));
            }
        }
        self.one_field_mistake()
    }

    fn one_field_mistake(&self) -> Option<String> {
        if self.index_kind.has_index() {
            return self
                .coordinates
                .is_some()
                .then(|| "coordinates lie in files that hold one field".to_owned());
        }
        let paths = self.want.iter().map(|want| {
            self.message_file(DateTime::UNIX_EPOCH, Member(0), Step(0), want)
                .path
        });
        let distinct: std::collections::HashSet<String> = paths.collect();
        (distinct.len() < self.want.len())
            .then(|| "path must hold {VARIABLE} or {variable}: two quantities share a file".into())
    }
}
