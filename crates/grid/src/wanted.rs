//! Wanted nodes of one grid, found once for all messages of that grid.
//!
//! Owns: which stored values are wanted, in the order of storage, and whose each is. Must not know: bitmaps, packings.

use crate::by_position::sort_by_position;
use crate::header::FieldHeader;
use crate::layout::Layout;
use crate::sections::FieldSections;
use crate::{Damage, Fault, Message, values};

/// A node outside the grid.
const OUTSIDE: u32 = u32::MAX;

/// Nodes whose values are wanted, sorted for one grid: a run of many messages has them sorted once, for [`crate::values_of`].
#[derive(Clone, Debug)]
pub struct WantedNodes {
    /// Section 3 as it stands in the message: the grid's identity.
    grid: Vec<u8>,
    /// Points of that grid.
    points: u64,
    /// Where the values stand among those of all points, ascending, each once.
    positions: Vec<usize>,
    /// Of each node in the order given, the number of its position, or [`OUTSIDE`].
    whose: Vec<u32>,
}

impl WantedNodes {
    /// These nodes, given as columns and rows of the field's grid; the cells of an unstructured mesh are columns of its only row, 0.
    /// A node may be given more than once, and may lie outside the grid.
    ///
    /// # Errors
    /// What makes the field unsupported or its sections unusable, and 2^32 nodes or more.
    pub fn new(message: &Message<'_>, field: &FieldHeader, nodes: &[(u32, u32)]) -> Result<Self, Damage> {
        let sections = values::sections_of(message, field)?;
        let layout = Layout::read(&sections.grid)?;
        if u32::try_from(nodes.len()).is_err() {
            let words = "more than 2^32 wanted nodes".to_owned();
            return Err(sections.data.damage(Fault::UnsupportedFeature(words)));
        }
        // Position and whose it is in one number, which sorts fastest: positions are below 2^25.
        let mut order: Vec<u64> = Vec::with_capacity(nodes.len());
        order.extend(
            (0_u64..)
                .zip(nodes)
                .filter_map(|(whose, node)| Some((layout.storage_index(node.0, node.1)? << 32) | whose)),
        );
        sort_by_position(&mut order, layout.points());
        let (mut positions, mut whose) = (Vec::with_capacity(order.len()), vec![OUTSIDE; nodes.len()]);
        for both in order {
            let position = (both >> 32) as usize;
            if positions.last() != Some(&position) {
                positions.push(position);
            }
            whose[both as u32 as usize] = positions.len() as u32 - 1;
        }
        Ok(Self {
            grid: sections.grid.bytes.to_vec(),
            points: layout.points(),
            positions,
            whose,
        })
    }

    /// Points of the grid they belong to.
    pub(crate) fn points(&self) -> u64 {
        self.points
    }

    /// Where the values stand among those of all points, ascending, each once.
    pub(crate) fn positions(&self) -> &[usize] {
        &self.positions
    }

    /// What stands at the nodes' positions, in the order the nodes were given; none for one outside the grid.
    pub(crate) fn hand_out<'v, T>(&'v self, of_positions: &'v [T]) -> impl Iterator<Item = Option<&'v T>> {
        self.whose
            .iter()
            .map(|&position| of_positions.get(position as usize))
    }

    /// Sees that the field is of the grid the nodes were found on.
    pub(crate) fn check_grid(&self, sections: &FieldSections<'_>) -> Result<(), Damage> {
        if sections.grid.bytes == self.grid {
            return Ok(());
        }
        let words = "the wanted nodes were found on another grid: they have to be found on this one";
        Err(sections.grid.contradiction(words))
    }
}
