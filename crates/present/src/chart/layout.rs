//! Where things stand in a chart of one breadth: hours across, rows of the table upwards.

use advisory::document::{Advisory, Hour, LocalTime};
use chrono::Timelike;

/// Which drawing: on a screen each chart is served in three, and the style sheet shows one; the sheet has its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Breadth {
    /// From 62 rem.
    Wide,
    /// From 46 rem.
    Middle,
    /// Phones, from 320 px.
    Narrow,
    /// The notice-board sheet, on which several stand: the number of this one.
    Sheet(usize),
}

impl Breadth {
    /// All three of a screen, as they are served.
    pub const ALL: [Self; 3] = [Self::Wide, Self::Middle, Self::Narrow];

    /// The class by which the style sheet shows one, its first letter the prefix of ids.
    pub fn class(self) -> &'static str {
        match self {
            Self::Wide => "wide",
            Self::Middle => "mid",
            Self::Narrow => "narrow",
            Self::Sheet(_) => "sheet",
        }
    }

    /// Prefix of the ids inside this drawing.
    pub(super) fn prefix(self) -> String {
        match self {
            Self::Sheet(number) => format!("p{number}"),
            other => other.class()[..1].to_owned(),
        }
    }
}

/// The strip above the table's last row.
pub(super) const PAST_STRIP: f64 = 24.0;

/// The plot of one drawing.
#[derive(Clone, Copy)]
pub(super) struct Layout {
    pub breadth: Breadth,
    pub width: f64,
    pub left: f64,
    pub right: f64,
    pub top: f64,
    pub band: f64,
    pub rows: usize,
    start: i64,
    seconds: f64,
}

impl Layout {
    /// None where there is no stretch of time to draw.
    pub fn of(advisory: &Advisory, breadth: Breadth) -> Option<Self> {
        let (width, left, right, top, band) = match breadth {
            Breadth::Wide => (940.0, 232.0, 828.0, 96.0, 62.0),
            Breadth::Middle => (704.0, 230.0, 600.0, 96.0, 60.0),
            Breadth::Narrow => (320.0, 96.0, 314.0, 100.0, 66.0),
            // A table of many rows is drawn closer, as far as two lines of words fit.
            Breadth::Sheet(_) => {
                let rows = advisory.reef_table.len().max(1) as f64;
                (760.0, 206.0, 644.0, 72.0, (132.0 / rows).clamp(29.0, 33.0))
            }
        };
        let (first, last) = (advisory.hours.first()?, advisory.hours.last()?);
        let seconds = (last.at - first.at).num_seconds();
        (seconds > 0).then_some(Self {
            breadth,
            width,
            left,
            right,
            top,
            band,
            rows: advisory.reef_table.len(),
            start: first.at.timestamp(),
            seconds: seconds as f64,
        })
    }

    pub fn narrow(&self) -> bool {
        self.breadth == Breadth::Narrow
    }

    /// On paper: smaller, and the sail plan stands beside it in words.
    pub fn on_the_sheet(&self) -> bool {
        matches!(self.breadth, Breadth::Sheet(_))
    }

    /// Where the middle of a wind barb stands.
    pub fn barbs(&self) -> f64 {
        if self.on_the_sheet() { 18.0 } else { 40.0 }
    }

    /// The lower edge of the plot: no wind.
    pub fn base(&self) -> f64 {
        self.top + PAST_STRIP + self.band * self.rows as f64
    }

    /// Height of the whole drawing: the plot, its hours and, with a plan, the boxes of what to carry.
    pub fn height(&self, with_plan: bool) -> f64 {
        self.base()
            + match (with_plan, self.narrow()) {
                (true, true) => 78.0,
                (true, false) if !self.on_the_sheet() => 66.0,
                _ => 22.0,
            }
    }

    /// The x of a time, kept inside the plot.
    pub fn x(&self, at: LocalTime) -> f64 {
        let part = (at.timestamp() - self.start) as f64 / self.seconds;
        self.left + part.clamp(0.0, 1.0) * (self.right - self.left)
    }

    /// Whether a time lies inside the plot or before it.
    pub fn reaches(&self, at: LocalTime) -> bool {
        ((at.timestamp() - self.start) as f64) <= self.seconds
    }

    /// The y of a place in the table, see [`super::rows::place`].
    pub fn y(&self, place: f64) -> f64 {
        let rows = self.rows as f64;
        let past = (place - rows).clamp(0.0, 1.0);
        self.base() - place.clamp(0.0, rows) * self.band - past * PAST_STRIP
    }

    /// Hours that get an upright, with the words below it where there is room for them.
    pub fn marked_hours<'a>(&self, hours: &'a [Hour]) -> Vec<(&'a Hour, Option<String>)> {
        let whole: Vec<&Hour> = hours.iter().filter(|hour| hour.at.minute() == 0).collect();
        let (format, room) = match self.breadth {
            Breadth::Wide | Breadth::Sheet(_) => ("%H:%M", 46.0),
            Breadth::Middle => ("%H", 28.0),
            Breadth::Narrow => ("%H", 32.0),
        };
        let apart = (self.right - self.left) / (self.seconds / 3600.0);
        let every = ((room / apart).ceil() as usize).max(1);
        // The hour at the right edge has room only where the drawing goes on beyond it.
        let fits = |hour: &Hour| self.x(hour.at) + room / 2.0 <= self.width;
        whole
            .into_iter()
            .enumerate()
            .map(|(index, hour)| {
                let named = index % every == 0 && fits(hour);
                (hour, named.then(|| hour.at.format(format).to_string()))
            })
            .collect()
    }
}

/// Stretches of neighbouring hours for which a value is known.
pub(super) fn known_stretches<T>(
    hours: &[Hour],
    value: impl Fn(&Hour) -> Option<T>,
) -> Vec<Vec<(LocalTime, T)>> {
    let mut stretches = vec![Vec::new()];
    for hour in hours {
        match (value(hour), stretches.last_mut()) {
            (Some(known), Some(stretch)) => stretch.push((hour.at, known)),
            _ => stretches.push(Vec::new()),
        }
    }
    stretches.retain(|stretch| !stretch.is_empty());
    stretches
}

/// Ten-minute steps between known hours: the table's rows bend a straight line of knots, so it is drawn in short pieces.
pub(super) fn in_short_steps<const N: usize>(
    stretch: &[(LocalTime, [f64; N])],
) -> Vec<(LocalTime, [f64; N])> {
    let mut points = Vec::new();
    for pair in stretch.windows(2) {
        let ((from, low), (to, high)) = (pair[0], pair[1]);
        for step in 0..6 {
            let part = f64::from(step) / 6.0;
            let values = std::array::from_fn(|index| low[index] + part * (high[index] - low[index]));
            points.push((from + (to - from) / 6 * step, values));
        }
    }
    points.extend(stretch.last().copied());
    points
}
