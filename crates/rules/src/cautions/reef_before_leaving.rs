//! Reef before leaving: a reef is put in alongside, not among the moorings (common practice, no source).

use super::{CautionCode, CautionDetail, CautionFound, CautionView};

/// Holds on leaving when the plan to leave with has a reef.
pub fn find(view: CautionView<'_>) -> Option<CautionFound> {
    let row = view.plan?.leave_with;
    let reefs = view.outing.boat.reef_table.rows().get(row)?.reefs;
    let leaves = view.outing.leaves;
    let found = CautionFound {
        code: CautionCode::ReefBeforeLeaving,
        from: leaves,
        to: leaves,
        detail: CautionDetail::Reef { row },
    };
    (reefs > 0).then_some(found)
}
