//! The pull of one run: which of its parts are read, which are waited for, and what is done with a contradiction.
//!
//! Owns: when a part may be written. Must not know: other runs and sources, how messages are read.

use crate::access::Access;
use crate::appeared::last_step_there;
use crate::assemble::PartBuilder;
use crate::batch::Reader;
use crate::cache::Shelf;
use crate::decoder::Ask;
use crate::error::FetchError;
use crate::folder::ReadFault;
use crate::mesh_cells::CellFinder;
use crate::pull::{FetchPlan, PullMeans};
use crate::read_part::{Decoders, PartReader};
use crate::report::RunReport;
use crate::secrets::without_passwords;
use crate::source::Source;
use crate::watch::PullEvent;
use chrono::{DateTime, Utc};
use feeds::plan::IndexTexts;
use feeds::{Compression, Feed, MissingMessage, PartPlan, plan_part, plan_part_of_subset};
use forecast::{Gap, Step};
use tokio::sync::OnceCell;

/// The pull of one run.
pub struct RunPull<'a> {
    pub plan: &'a FetchPlan,
    pub means: &'a PullMeans<'a>,
    pub feed: &'a Feed,
    pub address: &'a str,
    pub source: &'a Source,
    pub access: &'a Access,
    pub run: DateTime<Utc>,
    /// What is asked of each message, once it is known.
    pub ask: OnceCell<Ask>,
}

/// A part that was read: its values, its octets, and the indexes its plan came from.
struct ReadPart {
    builder: PartBuilder,
    octets: u64,
    indexes: IndexTexts,
}

impl RunPull<'_> {
    /// What was done; none if the run has no file.
    pub async fn whole(&self, decoders: &mut Decoders) -> Result<Option<RunReport>, FetchError> {
        let mut report = RunReport::new(self.run);
        let kept = self.means.store.runs(&self.feed.name, self.plan.now).await?;
        let kept = kept
            .into_iter()
            .find(|kept| kept.reference == self.run)
            .map_or(Vec::new(), |kept| kept.parts);
        report.parts_kept_before.clone_from(&kept);
        if kept.len() == usize::from(self.feed.part_count_of_run(self.run)) {
            return Ok(Some(report));
        }
        let received_before = self.received();
        let given_up = self.given_up();
        let Some(last) = last_step_there(self.feed, self.source, self.run, given_up).await? else {
            return Ok(None);
        };
        let (source, run) = (&self.feed.name, self.run);
        let parts = || (0..=self.feed.part_of(last)).filter(|part| !kept.contains(part));
        let messages = parts().map(|part| self.wanted_of_part(part)).sum();
        self.means.watcher.tell(PullEvent::RunBegins {
            source,
            run,
            messages,
        });
        for part in parts() {
            let went_on = self.next_part(part, last, decoders, &mut report).await;
            match went_on {
                Ok(true) => {}
                Ok(false) => break,
                Err(error @ FetchError::Unreachable(_)) => {
                    report.stopped = Some(without_passwords(&error.to_string()));
                    break;
                }
                Err(error) => return Err(error),
            }
        }
        report.octets_received = self.received() - received_before;
        Ok(Some(report))
    }

    /// How many messages are wanted of a part.
    fn wanted_of_part(&self, part: u16) -> usize {
        let due = |step: &Step| self.feed.want.iter().filter(|want| want.is_due(*step)).count();
        let of_a_member: usize = self.feed.steps_of_run_part(self.run, part).iter().map(due).sum();
        of_a_member * self.feed.all_members().len()
    }

    /// Reads a part and writes it; false if it is still appearing.
    async fn next_part(
        &self,
        part: u16,
        last: Step,
        decoders: &mut Decoders,
        report: &mut RunReport,
    ) -> Result<bool, FetchError> {
        let read = match self.is_there(part, last).await? {
            true => self.read(part, last, decoders).await?,
            false => None,
        };
        let Some(read) = read else {
            report.waiting_for_part = Some(part);
            return Ok(false);
        };
        let (source, run) = (&self.feed.name, self.run);
        self.means.watcher.tell(PullEvent::PartRead { source, run, part });
        let (octets, messages) = (read.octets, read.builder.messages_read());
        let (written, missing) = read.builder.finish(source.clone(), run, part, self.plan.now);
        if self.means.store.write_part(&written).await? {
            report.parts_written.push(part);
        }
        self.means
            .watcher
            .tell(PullEvent::PartWritten { source, run, part });
        report.octets_wanted += octets;
        report.messages_read += messages;
        report.missing.extend(missing);
        Ok(true)
    }

    /// Reads a part; none if it turned out to be still appearing.
    async fn read(
        &self,
        part: u16,
        last: Step,
        decoders: &mut Decoders,
    ) -> Result<Option<ReadPart>, FetchError> {
        let indexes = self.indexes_of_part(part).await?;
        if self.index_still_appears(part, last, &indexes) {
            return Ok(None);
        }
        let mut read = self.read_once(part, indexes, decoders).await?;
        if read
            .builder
            .missing()
            .iter()
            .any(|missing| missing.gap == Gap::Damaged)
        {
            read = self.read_by_newer_indexes(part, read, decoders).await?;
        }
        let lacks_files = || {
            read.builder
                .missing()
                .iter()
                .any(|missing| missing.gap == Gap::NotThere)
        };
        if !self.has_indexes() && !self.given_up() && lacks_files() {
            return Ok(None);
        }
        Ok(Some(read))
    }

    async fn read_once(
        &self,
        part: u16,
        indexes: IndexTexts,
        decoders: &mut Decoders,
    ) -> Result<ReadPart, FetchError> {
        let planned = self.planned(part, &indexes)?;
        let lengths = planned.wanted.iter().map(|message| message.range.length());
        self.means.watcher.tell(PullEvent::PartPlanned {
            source: &self.feed.name,
            run: self.run,
            part,
            messages: planned.wanted.len(),
            octets: self.has_indexes().then(|| lengths.flatten().sum()),
        });
        let shelf = self.shelf();
        let reader = Reader {
            source: self.read_from(),
            shelf: shelf.as_ref(),
            compression: self.compression(),
            most: self.plan.limits.message,
        };
        let ask = self.ask.get_or_try_init(|| self.ask(&reader, decoders)).await?;
        let reader = PartReader {
            feed: self.feed,
            reader,
            ask,
            watcher: self.means.watcher,
        };
        let (builder, octets) = reader.read(planned, decoders).await?;
        Ok(ReadPart {
            builder,
            octets,
            indexes,
        })
    }

    /// What to ask of each message: its values around the places, or in the mesh's cells that serve them.
    async fn ask(&self, reader: &Reader<'_>, decoders: &mut Decoders) -> Result<Ask, FetchError> {
        let Some(coordinates) = self.feed.coordinate_messages(self.run) else {
            return Ok(Ask::Around {
                places: self.plan.places.clone(),
                ring: self.plan.ring,
            });
        };
        let finder = CellFinder {
            reader,
            store: self.means.store,
            places: &self.plan.places,
        };
        finder.ask(&coordinates, decoders.one()).await
    }

    /// Messages that are not what their index says may be those of a file that was put there anew: then the index
    /// changes too, now or before the run is given up. Only an index that stays is believed.
    async fn read_by_newer_indexes(
        &self,
        part: u16,
        read: ReadPart,
        decoders: &mut Decoders,
    ) -> Result<ReadPart, FetchError> {
        let newer = self.indexes_of_part(part).await?;
        if newer != read.indexes {
            return self.read_once(part, newer, decoders).await;
        }
        if let Some(path) = self
            .older_index(read.builder.missing())
            .filter(|_| !self.given_up())
        {
            let words = "is older than its file, and they contradict each other";
            return Err(FetchError::Unreachable(format!("the index {path} {words}")));
        }
        Ok(read)
    }

    /// The index of a file with damaged messages that was changed before that file was.
    fn older_index(&self, missing: &[MissingMessage]) -> Option<String> {
        let damaged = missing.iter().filter(|missing| missing.gap == Gap::Damaged);
        let mut indexes = damaged.map(|missing| {
            let file = self.feed.file(self.run, missing.member, missing.step);
            (file.index_path, missing.file.as_str())
        });
        let changed = |path: &str| self.source.last_modified(path);
        let older = |index: &str, file: &str| {
            changed(index)
                .zip(changed(file))
                .is_some_and(|(index, file)| index < file)
        };
        indexes
            .find(|(index, file)| older(index, file))
            .map(|(index, _)| index)
    }

    fn planned(&self, part: u16, indexes: &IndexTexts) -> Result<PartPlan, FetchError> {
        match self.access {
            Access::Ranges => Ok(plan_part(self.feed, self.run, part, indexes)),
            Access::Subset(_, area) => {
                let planned = plan_part_of_subset(self.feed, self.run, part, *area);
                planned.ok_or_else(|| FetchError::Unreachable("the feed has no subset service".to_owned()))
            }
        }
    }

    fn read_from(&self) -> &Source {
        match self.access {
            Access::Ranges => self.source,
            Access::Subset(service, _) => service,
        }
    }

    fn compression(&self) -> Compression {
        match self.access {
            Access::Ranges => self.feed.compression,
            Access::Subset(..) => Compression::None,
        }
    }

    fn shelf(&self) -> Option<Shelf> {
        let cache = self.means.cache?;
        // A folder is at hand already.
        let over_network = matches!(self.read_from(), Source::Http(..));
        over_network.then(|| cache.shelf(&self.feed.name, self.address, self.run))
    }

    fn has_indexes(&self) -> bool {
        matches!(self.access, Access::Ranges) && self.feed.index_kind.has_index()
    }

    fn given_up(&self) -> bool {
        self.feed.given_up(self.run, self.plan.now)
    }

    fn received(&self) -> u64 {
        self.source.received() + self.access.received()
    }

    /// Without indexes to tell: whether the files of the part's last step are all there, or given up.
    async fn is_there(&self, part: u16, last: Step) -> Result<bool, FetchError> {
        if self.has_indexes() || self.given_up() {
            return Ok(true);
        }
        let steps = self.feed.steps_of_run_part(self.run, part);
        let Some(step) = steps.last().copied().filter(|step| *step <= last) else {
            return Ok(false);
        };
        let of_member = |member| {
            let due = self.feed.want.iter().filter(move |want| want.is_due(step));
            due.map(move |want| self.feed.message_file(self.run, member, step, want).index_path)
        };
        let mut paths: Vec<String> = self.feed.all_members().into_iter().flat_map(of_member).collect();
        paths.dedup();
        self.source.has_all(paths).await
    }

    /// The last part there is waited for while files of it are absent and may yet come: a part is written once. Files
    /// absent before it, or after the time at which they are given up, are gaps.
    fn index_still_appears(&self, part: u16, last: Step, indexes: &IndexTexts) -> bool {
        let files = || self.feed.files_of_part(self.run, part).into_iter();
        self.has_indexes()
            && part == self.feed.part_of(last)
            && !self.given_up()
            && files().any(|file| !indexes.contains_key(&file.index_path))
    }

    /// The indexes that are there. One of which nothing can be said now ends the part: it is written once.
    async fn indexes_of_part(&self, part: u16) -> Result<IndexTexts, FetchError> {
        let mut indexes = IndexTexts::new();
        if !self.has_indexes() {
            return Ok(indexes);
        }
        let paths = self.feed.index_paths_of_part(self.run, part);
        for (path, text) in self.source.indexes(paths).await? {
            match text {
                Ok(text) => indexes.insert(path, Ok(text)),
                Err(ReadFault::Unusable(reason)) => indexes.insert(path, Err(reason)),
                Err(ReadFault::Absent) => None,
                Err(fault @ ReadFault::Unreachable(_)) => return Err(fault.into()),
            };
        }
        Ok(indexes)
    }
}
