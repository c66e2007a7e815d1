//! Reading a run back: the visible parts of a run at the nodes near some places, joined to one slice.

use crate::blob::from_blob;
use crate::part::Manifest;
use crate::run::{instant, small};
use crate::{Store, StoreError};
use chrono::{DateTime, Utc};
use forecast::{
    FieldSeries, Gap, Member, MessageRecord, Node, NodeSeries, Outcome, Parameter, RunSlice, Sample,
    SourceId, Step,
};
use seaway::LatLon;
use sqlx::any::AnyRow;
use sqlx::{AnyConnection, Row};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// A kept node counts as near a place up to this many degrees of latitude and of longitude: the block of candidate
/// nodes on a quarter-degree grid reaches half a degree.
pub const NEAR_DEGREES: f64 = 1.0;

/// Fields that do not change with the step: kept once, they stand at every step of a slice.
const STATIC_FIELDS: [Parameter; 1] = [Parameter::LandShare];

/// One visible part as read, before it is joined to the others.
struct ReadPart {
    part: u16,
    grid: String,
    visible_at: DateTime<Utc>,
    manifest: Manifest,
    nodes: Vec<NodeSeries>,
}

impl Store {
    /// What a run says at the kept nodes near some places, from the parts that were visible at `as_of`; with `steps`,
    /// from the first to the last of these only. None if no part of the run was visible.
    ///
    /// What a part lacks is a gap with its reason; a part that is absent between others is a gap at its steps.
    ///
    /// # Errors
    /// [`StoreError::Unreadable`] or [`StoreError::Inconsistent`] if what is kept was damaged,
    /// [`StoreError::Database`] otherwise.
    pub async fn read_slice(
        &self,
        source: &SourceId,
        reference: DateTime<Utc>,
        as_of: DateTime<Utc>,
        near: &[LatLon],
        steps: Option<(Step, Step)>,
    ) -> Result<Option<RunSlice>, StoreError> {
        // Of a run that is pruned meanwhile either all is read or nothing.
        let doing = format!("reading run {} of {source}", reference.to_rfc3339());
        let mut snapshot = self.snapshot().await.map_err(StoreError::while_doing(doing))?;
        let mut parts = visible_parts(&mut snapshot, source, reference, as_of).await?;
        // Nodes are counted in one grid. Should a part lie on another one, its values are not there.
        let grid = parts
            .iter()
            .map(|part| part.grid.clone())
            .find(|grid| !grid.is_empty())
            .unwrap_or_default();
        for part in parts
            .iter_mut()
            .filter(|part| part.grid == grid && wanted(part, steps))
        {
            part.nodes = nodes_of_part(&mut snapshot, source, reference, part, near).await?;
        }
        Ok((!parts.is_empty()).then(|| join(source, reference, grid, &parts, steps)))
    }
}

async fn visible_parts(
    snapshot: &mut AnyConnection,
    source: &SourceId,
    reference: DateTime<Utc>,
    as_of: DateTime<Utc>,
) -> Result<Vec<ReadPart>, StoreError> {
    let what = format!("run {} of {source}", reference.to_rfc3339());
    let rows = sqlx::query(
        "SELECT part, grid, visible_at, manifest FROM parts
         WHERE source = $1 AND reference = $2 AND visible_at <= $3 ORDER BY part ASC",
    )
    .bind(source.as_str())
    .bind(reference.timestamp())
    .bind(as_of.timestamp())
    .fetch_all(&mut *snapshot)
    .await
    .map_err(StoreError::while_doing(format!("reading {what}")))?;
    let mut parts = Vec::with_capacity(rows.len());
    for row in &rows {
        let (part, bytes) = part_of(row).map_err(StoreError::while_doing(format!("reading {what}")))?;
        let manifest = manifest_of(&bytes, &format!("part {} of {what}", part.part))?;
        parts.push(ReadPart { manifest, ..part });
    }
    Ok(parts)
}

async fn nodes_of_part(
    snapshot: &mut AnyConnection,
    source: &SourceId,
    reference: DateTime<Utc>,
    part: &ReadPart,
    near: &[LatLon],
) -> Result<Vec<NodeSeries>, StoreError> {
    let what = format!("part {} of run {} of {source}", part.part, reference.to_rfc3339());
    let south = near.iter().map(|place| place.lat).fold(f64::INFINITY, f64::min) - NEAR_DEGREES;
    let north = near
        .iter()
        .map(|place| place.lat)
        .fold(f64::NEG_INFINITY, f64::max)
        + NEAR_DEGREES;
    let rows = sqlx::query(
        "SELECT node_column, node_row, lat, lon, samples FROM series
         WHERE source = $1 AND reference = $2 AND part = $3 AND grid = $4 AND lat BETWEEN $5 AND $6",
    )
    .bind(source.as_str())
    .bind(reference.timestamp())
    .bind(i64::from(part.part))
    .bind(part.grid.as_str())
    .bind(south)
    .bind(north)
    .fetch_all(&mut *snapshot)
    .await
    .map_err(StoreError::while_doing(format!("reading {what}")))?;
    let mut nodes = Vec::new();
    for row in &rows {
        let node = node_of(row).map_err(StoreError::while_doing(format!("reading {what}")))?;
        if near.iter().any(|place| is_near(*place, node.at)) {
            let bytes: Vec<u8> = row
                .try_get(4)
                .map_err(StoreError::while_doing(format!("reading {what}")))?;
            nodes.push(NodeSeries {
                node,
                fields: fields_of(&bytes, &part.manifest, &what)?,
            });
        }
    }
    Ok(nodes)
}

fn part_of(row: &AnyRow) -> Result<(ReadPart, Vec<u8>), sqlx::Error> {
    let empty = Manifest {
        members: Vec::new(),
        steps: Vec::new(),
        messages: Vec::new(),
    };
    let part = ReadPart {
        part: small(row.try_get(0)?)?,
        grid: row.try_get(1)?,
        visible_at: instant(row.try_get(2)?)?,
        manifest: empty,
        nodes: Vec::new(),
    };
    Ok((part, row.try_get(3)?))
}

pub(crate) fn node_of(row: &AnyRow) -> Result<Node, sqlx::Error> {
    let index = |number: i64| u32::try_from(number).map_err(|error| sqlx::Error::Decode(error.into()));
    let at = LatLon {
        lat: row.try_get(2)?,
        lon: row.try_get(3)?,
    };
    Ok(Node {
        column: index(row.try_get(0)?)?,
        row: index(row.try_get(1)?)?,
        at,
    })
}

pub(crate) fn manifest_of(bytes: &[u8], part: &str) -> Result<Manifest, StoreError> {
    let what = format!("the manifest of {part}");
    match from_blob::<Manifest>(bytes) {
        Ok(manifest) if manifest.is_in_order() => Ok(manifest),
        Ok(_) => Err(StoreError::Inconsistent { what }),
        Err(source) => Err(StoreError::Unreadable { what, source }),
    }
}

fn fields_of(bytes: &[u8], manifest: &Manifest, what: &str) -> Result<Vec<FieldSeries>, StoreError> {
    let fields: Vec<FieldSeries> = from_blob(bytes).map_err(|source| StoreError::Unreadable {
        what: format!("a series of {what}"),
        source,
    })?;
    let wanted = manifest.members.len() * manifest.steps.len();
    if fields.iter().any(|field| field.samples.len() != wanted) {
        return Err(StoreError::Inconsistent {
            what: format!("a series of {what}"),
        });
    }
    Ok(fields)
}

fn is_near(place: LatLon, node: LatLon) -> bool {
    let east = (node.lon - place.lon).rem_euclid(360.0);
    (node.lat - place.lat).abs() <= NEAR_DEGREES && east.min(360.0 - east) <= NEAR_DEGREES
}

fn within(step: Step, range: Option<(Step, Step)>) -> bool {
    range.is_none_or(|(first, last)| (first..=last).contains(&step))
}

/// A part's series are read if a wanted step lies in it, or if it holds a field that stands at every step.
fn wanted(part: &ReadPart, range: Option<(Step, Step)>) -> bool {
    let holds_static = || {
        part.manifest
            .messages
            .iter()
            .any(|record| STATIC_FIELDS.contains(&record.parameter))
    };
    part.manifest.steps.iter().any(|step| within(*step, range)) || holds_static()
}

/// Joins parts, ascending, into one slice.
fn join(
    source: &SourceId,
    reference: DateTime<Utc>,
    grid: String,
    parts: &[ReadPart],
    range: Option<(Step, Step)>,
) -> RunSlice {
    let members: BTreeSet<Member> = parts
        .iter()
        .flat_map(|part| part.manifest.members.iter().copied())
        .collect();
    let steps: Vec<Step> = all_steps(parts)
        .into_iter()
        .filter(|step| within(*step, range))
        .collect();
    let kept =
        |record: &&MessageRecord| within(record.step, range) || STATIC_FIELDS.contains(&record.parameter);
    let messages: Vec<MessageRecord> = parts
        .iter()
        .flat_map(|part| &part.manifest.messages)
        .filter(kept)
        .cloned()
        .collect();
    let parameters: BTreeSet<Parameter> = messages.iter().map(|record| record.parameter).collect();
    let table = Table::new(members.into_iter().collect(), steps);
    let mut unread: HashMap<Parameter, Vec<Sample>> = HashMap::new();
    for parameter in &parameters {
        unread.insert(*parameter, table.reasons(*parameter, parts));
    }
    let mut nodes: BTreeMap<(u32, u32), NodeSeries> = BTreeMap::new();
    for part in parts {
        for read in &part.nodes {
            let series = nodes
                .entry((read.node.row, read.node.column))
                .or_insert_with(|| NodeSeries {
                    node: read.node,
                    fields: parameters
                        .iter()
                        .map(|parameter| FieldSeries {
                            parameter: *parameter,
                            samples: unread[parameter].clone(),
                        })
                        .collect(),
                });
            table.copy(part, read, series);
        }
    }
    RunSlice {
        source: source.clone(),
        reference,
        visible_at: parts
            .iter()
            .map(|part| part.visible_at)
            .max()
            .unwrap_or(reference),
        grid,
        members: table.members,
        steps: table.steps,
        nodes: nodes.into_values().collect(),
        messages,
    }
}

/// The steps of the parts; where a part between two others is absent, also its steps as far as they can be told: at
/// the spacing at which the part before it ends. They are gaps, and nothing may be interpolated across them.
fn all_steps(parts: &[ReadPart]) -> BTreeSet<Step> {
    let mut steps: BTreeSet<Step> = parts
        .iter()
        .flat_map(|part| part.manifest.steps.iter().copied())
        .collect();
    for pair in parts.windows(2).filter(|pair| pair[1].part - pair[0].part > 1) {
        let before = &pair[0].manifest.steps;
        let (Some(last), Some(next)) = (before.last(), pair[1].manifest.steps.first()) else {
            continue;
        };
        let spacing = before.iter().rev().nth(1).map_or(1, |earlier| last.0 - earlier.0);
        steps.extend((last.0..next.0).step_by(usize::from(spacing.max(1))).map(Step));
    }
    steps
}

/// Members by steps of a slice, and where a part's samples lie in it.
struct Table {
    members: Vec<Member>,
    steps: Vec<Step>,
}

impl Table {
    fn new(members: Vec<Member>, steps: Vec<Step>) -> Self {
        Self { members, steps }
    }

    fn index(&self, member: Member, step: Step) -> Option<usize> {
        let member = self.members.binary_search(&member).ok()?;
        Some(member * self.steps.len() + self.steps.binary_search(&step).ok()?)
    }

    /// Why a value is missing wherever no series has it.
    fn reasons(&self, parameter: Parameter, parts: &[ReadPart]) -> Vec<Sample> {
        // Steps of an absent part stay "not there".
        let mut samples = vec![Err(Gap::NotThere); self.members.len() * self.steps.len()];
        if STATIC_FIELDS.contains(&parameter) {
            samples.fill(Err(static_reason(parameter, parts)));
            return samples;
        }
        for part in parts {
            let records = || {
                part.manifest
                    .messages
                    .iter()
                    .filter(|record| record.parameter == parameter)
            };
            if records().next().is_none() {
                for (member, step) in part.manifest.places() {
                    set(&mut samples, self.index(member, step), Err(Gap::NotInFeed));
                }
            }
            for record in records() {
                if let Outcome::Missing(gap) = record.outcome {
                    set(&mut samples, self.index(record.member, record.step), Err(gap));
                }
            }
        }
        samples
    }

    /// Copies what a part has at a node into the node's series.
    fn copy(&self, part: &ReadPart, read: &NodeSeries, into: &mut NodeSeries) {
        for field in &read.fields {
            let Some(target) = into
                .fields
                .iter_mut()
                .find(|target| target.parameter == field.parameter)
            else {
                continue;
            };
            if STATIC_FIELDS.contains(&field.parameter) {
                // One value for the run: the first that was read, whatever the member and step.
                if let Some(value) = field.samples.iter().find(|sample| sample.is_ok()) {
                    target.samples.fill(*value);
                }
                continue;
            }
            for ((member, step), sample) in part.manifest.places().zip(&field.samples) {
                set(&mut target.samples, self.index(member, step), *sample);
            }
        }
    }
}

impl Manifest {
    /// Members and steps in the order in which samples are kept.
    fn places(&self) -> impl Iterator<Item = (Member, Step)> {
        self.members
            .iter()
            .flat_map(|member| self.steps.iter().map(|step| (*member, *step)))
    }
}

fn static_reason(parameter: Parameter, parts: &[ReadPart]) -> Gap {
    let mut records = parts.iter().flat_map(|part| &part.manifest.messages);
    match records
        .find(|record| record.parameter == parameter)
        .map(|record| record.outcome)
    {
        Some(Outcome::Missing(gap)) => gap,
        _ => Gap::NotThere,
    }
}

fn set(samples: &mut [Sample], index: Option<usize>, sample: Sample) {
    if let Some(index) = index {
        samples[index] = sample;
    }
}
