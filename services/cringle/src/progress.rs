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
    /// Messages and octets of the parts whose indexes are known: from them the octets of the others are estimated.
    planned: AtomicU64,
    planned_octets: AtomicU64,
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
            planned_octets: AtomicU64::new(0),
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
        let planned = self.planned.load(Ordering::Relaxed);
        let each = self.planned_octets.load(Ordering::Relaxed) as f64 / planned.max(1) as f64;
        let all = (each * bar.length().unwrap_or(0) as f64) as u64;
        bar.set_message(match (received, all) {
            (received, 0) => octets(received),
            // A folder's octets are not received.
            (0, all) => format!("about {}", octets(all)),
            // Indexes are received beside the messages.
            (received, all) => format!("{} of about {}", octets(received), octets(all.max(received))),
        });
    }

    fn draw(&self, bar: &ProgressBar, event: PullEvent<'_>) {
        match event {
            PullEvent::RunBegins { messages, .. } => bar.inc_length(messages as u64),
            PullEvent::PartPlanned { messages, octets, .. } => {
                self.planned.fetch_add(messages as u64, Ordering::Relaxed);
                self.planned_octets
                    .fetch_add(octets.unwrap_or(0), Ordering::Relaxed);
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
            PullEvent::RunBegins {
                source,
                run,
                messages,
            } => {
                tell(&format!("{source}: run {}: {messages} messages", of(run)));
            }
            PullEvent::PartWritten { source, run, part } => {
                tell(&format!("{source}: run {}: part {part} kept", of(run)));
            }
            PullEvent::SourceEnds { report } => tell(&format!("{}: done", report.source)),
            _ => {}
        }
    }
}
