//! Parts written and read back. No source: the rules are those of the project's architecture text ("What is kept, and
//! how").

use crate::samples::{MEMBERS, after, home, part, reference, sample, slice, source, value};
use crate::shelf::Shelf;
use forecast::{Gap, Member, Outcome, Parameter, Step};
use seaway::LatLon;
use store::{NewClubVersion, StoreError};

on_both_backends!(
    parts_are_joined_and_only_near_nodes_come_back,
    a_second_write_of_a_part_changes_nothing,
    readers_see_only_what_was_visible_then,
    runs_come_newest_first,
    what_is_newly_visible_is_told_without_reading_it,
    gaps_come_back_with_their_reasons,
    messages_are_counted_by_what_became_of_them,
    a_part_absent_between_others_is_a_gap_at_its_steps,
    a_range_of_steps_keeps_the_land_share_of_step_zero,
    nodes_across_the_date_line_are_near,
    a_part_that_contradicts_itself_is_refused_whole,
    a_store_keeps_its_parts_and_opens_again,
);

async fn parts_are_joined_and_only_near_nodes_come_back(shelf: Shelf) {
    let store = shelf.open().await;
    let both = [Parameter::WindU, Parameter::Gust];
    assert!(store.write_part(&part(0, &[0, 3, 6], &both)).await.unwrap());
    assert!(store.write_part(&part(1, &[9, 12], &both)).await.unwrap());
    let slice = slice(&store, 10, None).await;
    assert_eq!(slice.steps, [0, 3, 6, 9, 12].map(Step));
    assert_eq!(slice.members, MEMBERS.map(Member));
    assert_eq!(
        slice.nodes.iter().map(|n| n.node.column).collect::<Vec<_>>(),
        [1, 2]
    );
    assert_eq!((slice.grid.as_str(), slice.visible_at), ("grid-a", after(5)));
    for parameter in both {
        for (member, step) in [(0, 0), (1, 6), (7, 9), (7, 12), (0, 12)] {
            assert_eq!(
                sample(&slice, 2, parameter, member, step),
                Ok(value(parameter, member, step, 2))
            );
        }
    }
    assert_eq!(
        slice.message(Parameter::Gust, Member(7), Step(9)).unwrap().file,
        "m7.f009"
    );
}

async fn a_second_write_of_a_part_changes_nothing(shelf: Shelf) {
    let store = shelf.open().await;
    let first = part(0, &[0, 3], &[Parameter::WindU]);
    assert!(store.write_part(&first).await.unwrap());
    let before = slice(&store, 10, None).await;
    let mut other = part(0, &[0, 3], &[Parameter::WindV]);
    other.visible_at = after(1);
    assert!(!store.write_part(&other).await.unwrap());
    assert_eq!(slice(&store, 10, None).await, before);
}

async fn readers_see_only_what_was_visible_then(shelf: Shelf) {
    let store = shelf.open().await;
    for (number, steps) in [(0, [0, 3]), (1, [6, 9])] {
        store
            .write_part(&part(number, &steps, &[Parameter::WindU]))
            .await
            .unwrap();
    }
    assert!(
        store
            .read_slice(&source(), reference(), after(3), &[home()], None)
            .await
            .unwrap()
            .is_none()
    );
    assert_eq!(store.newest_run(&source(), after(3)).await.unwrap(), None);
    assert_eq!(slice(&store, 4, None).await.steps, [0, 3].map(Step));
    let run = store.newest_run(&source(), after(4)).await.unwrap().unwrap();
    assert_eq!(
        (run.parts, run.last_step, run.visible_at),
        (vec![0], Step(3), after(4))
    );
    let run = store.newest_run(&source(), after(5)).await.unwrap().unwrap();
    assert_eq!(
        (run.parts, run.last_step, run.complete),
        (vec![0, 1], Step(9), true)
    );
}

async fn runs_come_newest_first(shelf: Shelf) {
    let store = shelf.open().await;
    store
        .write_part(&part(0, &[0, 3], &[Parameter::WindU]))
        .await
        .unwrap();
    let mut later = part(0, &[0, 3], &[Parameter::WindU]);
    (later.reference, later.complete) = (after(6), false);
    store.write_part(&later).await.unwrap();
    let runs = store.runs(&source(), after(20)).await.unwrap();
    assert_eq!(
        runs.iter().map(|r| (r.reference, r.complete)).collect::<Vec<_>>(),
        [(after(6), false), (after(0), true)]
    );
}

async fn gaps_come_back_with_their_reasons(shelf: Shelf) {
    let store = shelf.open().await;
    let mut first = part(0, &[0, 3], &[Parameter::WindU, Parameter::Precipitation]);
    first.nodes[0].fields[0].samples[1] = Err(Gap::Masked);
    first
        .messages
        .iter_mut()
        .find(|m| m.member.0 == 7 && m.step.0 == 3)
        .unwrap()
        .outcome = Outcome::Missing(Gap::Damaged);
    first.nodes[0].fields[0].samples[5] = Err(Gap::Damaged);
    first.nodes.remove(1); // node 2 is in the later part only
    store.write_part(&first).await.unwrap();
    store
        .write_part(&part(1, &[6, 9], &[Parameter::WindU]))
        .await
        .unwrap();
    let slice = slice(&store, 10, None).await;
    assert_eq!(sample(&slice, 1, Parameter::WindU, 0, 3), Err(Gap::Masked));
    assert_eq!(sample(&slice, 1, Parameter::WindU, 7, 3), Err(Gap::Damaged));
    assert_eq!(
        sample(&slice, 2, Parameter::WindU, 7, 3),
        Err(Gap::Damaged),
        "the message's own reason"
    );
    assert_eq!(
        sample(&slice, 2, Parameter::WindU, 0, 0),
        Err(Gap::NotThere),
        "read, but not at this node"
    );
    assert_eq!(
        sample(&slice, 1, Parameter::Precipitation, 0, 6),
        Err(Gap::NotInFeed),
        "this part lacks it"
    );
    assert_eq!(
        sample(&slice, 1, Parameter::WindU, 1, 9),
        Ok(value(Parameter::WindU, 1, 9, 1))
    );
}

async fn messages_are_counted_by_what_became_of_them(shelf: Shelf) {
    let store = shelf.open().await;
    let mut first = part(0, &[0, 3], &[Parameter::WindU]);
    first.messages[4].outcome = Outcome::Missing(Gap::Damaged);
    first.messages[5].outcome = Outcome::Missing(Gap::NotThere);
    store.write_part(&first).await.unwrap();
    let mut later = part(1, &[6], &[Parameter::WindU]);
    later.messages[0].outcome = Outcome::Missing(Gap::Damaged);
    later.visible_at = first.visible_at + chrono::TimeDelta::hours(1);
    store.write_part(&later).await.unwrap();
    let tally = async |as_of| store.message_tally(&source(), reference(), as_of).await.unwrap();
    let counted = tally(first.visible_at).await;
    assert_eq!(
        (counted.read, counted.wanted()),
        (4, 6),
        "the later part is not seen yet"
    );
    let counted = tally(later.visible_at).await;
    assert_eq!((counted.read, counted.wanted()), (6, 9));
    assert_eq!(counted.missing, [(Gap::NotThere, 1), (Gap::Damaged, 2)].into());
    assert_eq!(tally(after(-99)).await.wanted(), 0);
}

async fn a_part_absent_between_others_is_a_gap_at_its_steps(shelf: Shelf) {
    let store = shelf.open().await;
    store
        .write_part(&part(0, &[0, 3, 6], &[Parameter::WindU]))
        .await
        .unwrap();
    store
        .write_part(&part(2, &[15, 18], &[Parameter::WindU]))
        .await
        .unwrap();
    let slice = slice(&store, 10, None).await;
    assert_eq!(slice.steps, [0, 3, 6, 9, 12, 15, 18].map(Step));
    assert_eq!(sample(&slice, 1, Parameter::WindU, 7, 9), Err(Gap::NotThere));
    assert_eq!(
        sample(&slice, 1, Parameter::WindU, 7, 15),
        Ok(value(Parameter::WindU, 7, 15, 1))
    );
}

async fn a_range_of_steps_keeps_the_land_share_of_step_zero(shelf: Shelf) {
    let store = shelf.open().await;
    let mut first = part(0, &[0, 3], &[Parameter::WindU, Parameter::LandShare]);
    for node in &mut first.nodes {
        node.fields[1].samples.fill(Err(Gap::NotInFeed));
        node.fields[1].samples[0] = Ok(1.0);
    }
    first
        .messages
        .retain(|m| m.parameter != Parameter::LandShare || m.step.0 == 0);
    store.write_part(&first).await.unwrap();
    store
        .write_part(&part(1, &[6, 9, 12], &[Parameter::WindU]))
        .await
        .unwrap();
    let slice = slice(&store, 10, Some((9, 12))).await;
    assert_eq!(slice.steps, [9, 12].map(Step));
    assert_eq!(sample(&slice, 1, Parameter::LandShare, 7, 12), Ok(1.0));
    assert_eq!(
        sample(&slice, 1, Parameter::WindU, 7, 12),
        Ok(value(Parameter::WindU, 7, 12, 1))
    );
    assert!(
        slice
            .messages
            .iter()
            .all(|m| m.step.0 >= 9 || m.parameter == Parameter::LandShare)
    );
}

async fn nodes_across_the_date_line_are_near(shelf: Shelf) {
    let store = shelf.open().await;
    let mut first = part(0, &[0], &[Parameter::WindU]);
    first.nodes[0].node.at = LatLon {
        lat: 0.0,
        lon: -179.75,
    };
    store.write_part(&first).await.unwrap();
    let place = LatLon { lat: 0.1, lon: 179.9 };
    let slice = store
        .read_slice(&source(), reference(), after(9), &[place], None)
        .await
        .unwrap()
        .unwrap();
    assert_eq!(slice.nodes.len(), 1);
}

async fn a_part_that_contradicts_itself_is_refused_whole(shelf: Shelf) {
    let store = shelf.open().await;
    let mut bad = part(0, &[0, 3], &[Parameter::WindU]);
    bad.nodes[1].fields[0].samples.pop();
    let error = store.write_part(&bad).await.unwrap_err();
    assert!(
        matches!(error, StoreError::Refused { .. }) && error.to_string().contains("part 0"),
        "{error}"
    );
    assert_eq!(store.newest_run(&source(), after(99)).await.unwrap(), None);
}

async fn a_store_keeps_its_parts_and_opens_again(shelf: Shelf) {
    let store = shelf.open().await;
    store
        .write_part(&part(0, &[0, 3], &[Parameter::WindU]))
        .await
        .unwrap();
    let before = slice(&store, 9, None).await;
    store.close().await;
    let again = shelf.open().await;
    assert_eq!(slice(&again, 9, None).await, before);
}

async fn what_is_newly_visible_is_told_without_reading_it(shelf: Shelf) {
    let store = shelf.open().await;
    let visible = async |hours| {
        let newest = store.newest_visible(after(hours)).await.unwrap();
        (newest.parts, newest.since)
    };
    assert_eq!(visible(10).await, (0, None));
    for number in 0..2 {
        let part = part(number, &[3 * number], &[Parameter::WindU]);
        assert!(store.write_part(&part).await.unwrap());
    }
    assert_eq!(visible(3).await, (0, None));
    assert_eq!(visible(4).await, (1, Some(after(4))));
    assert_eq!(visible(5).await, (2, Some(after(5))));
    // A part that becomes visible in the same second as another shows by the count.
    let mut same = part(2, &[6], &[Parameter::WindU]);
    same.visible_at = after(5);
    assert!(store.write_part(&same).await.unwrap());
    assert_eq!(visible(5).await, (3, Some(after(5))));
    // A club file that is kept is news too, whichever process keeps it.
    let files = store.newest_visible(after(5)).await.unwrap().club_versions;
    let file = NewClubVersion {
        slug: "pontoon".into(),
        version: "first".into(),
        text: "the file".into(),
        seen_at: after(5),
    };
    assert!(store.put_club_version(&file).await.unwrap());
    assert_eq!(
        store.newest_visible(after(5)).await.unwrap().club_versions,
        files + 1
    );
}
