//! How a pull goes on: a bar where a terminal shows it, plain lines elsewhere. On standard error, beside what is printed.

use crate::commands::fetch::octets;
use crate::output::tell;
use fetcher::{PullEvent, PullWatcher};
use indicatif::{ProgressBar, ProgressStyle};
use std::io::{IsTerminal, stderr};
use std::sync::atomic::{AtomicU64, Ordering};

/// Shows what a pull tells.
pub struct Progress {
    /// None where lines are written.
    bar: Option<ProgressBar>,
    received: AtomicU64,
    planned: AtomicU64,
}

impl Progress {
    /// A bar if standard error is a terminal.
    pub fn new() -> Self {
        let form = "{bar:20} {pos} of {len} messages, {msg}, {eta} left";
        let bar = stderr().is_terminal().then(|| {
            let style = ProgressStyle::with_template(form).unwrap_or_else(|_| ProgressStyle::default_bar());
            ProgressBar::new(0).with_style(style.progress_chars("=> "))
        });
        Self {
            bar,
            received: AtomicU64::new(0),
            planned: AtomicU64::new(0),
        }
    }

    /// Takes the bar away.
    pub fn end(&self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }

    fn octets(&self, bar: &ProgressBar) {
        let received = self.received.load(Ordering::Relaxed);
        // What the last messages of files have is not known beforehand, and a folder's octets are not received.
        let planned = octets(self.planned.load(Ordering::Relaxed));
        bar.set_message(match received {
            0 => format!("about {planned}"),
            received => format!("{} of about {planned}", octets(received)),
        });
    }

    fn draw(&self, bar: &ProgressBar, event: PullEvent<'_>) {
        match event {
            PullEvent::PartPlanned { messages, octets, .. } => {
                bar.inc_length(messages as u64);
                self.planned.fetch_add(octets.unwrap_or(0), Ordering::Relaxed);
                self.octets(bar);
            }
            PullEvent::OctetsReceived { octets, .. } => {
                self.received.fetch_add(octets, Ordering::Relaxed);
                self.octets(bar);
            }
            PullEvent::MessagesDone { count, .. } => bar.inc(count as u64),
            _ => {}
        }
    }
}

impl PullWatcher for Progress {
    fn tell(&self, event: PullEvent<'_>) {
        if let Some(bar) = &self.bar {
            return self.draw(bar, event);
        }
        let of = |run: chrono::DateTime<chrono::Utc>| run.format("%a %-d %b %H:%M UTC").to_string();
        match event {
            PullEvent::SourceBegins { source } => tell(&format!("{source}: looking for runs")),
            PullEvent::RunBegins { source, run } => tell(&format!("{source}: run {}", of(run))),
            PullEvent::PartWritten { source, run, part } => {
                tell(&format!("{source}: run {}: part {part} kept", of(run)));
            }
            PullEvent::SourceEnds { report } => tell(&format!("{}: done", report.source)),
            _ => {}
        }
    }
}
