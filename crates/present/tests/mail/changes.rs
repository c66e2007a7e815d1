//! Subjects, and the mail when a call or decision has changed.

use super::*;

#[test]
fn the_subject_says_when_for_whom_the_call_and_what_to_leave_with() {
    for (index, subject) in [
        (MARGINAL, "Sat 17 Oct 09:30, First days: marginal, back by 14:15"),
        (GO, "Sat 17 Oct 10:00, Skippers in training: go, 1 reef"),
        (NO_GO, "Sun 18 Oct 09:30, First days: no-go"),
        (LIGHT, "Tue 20 Oct 10:00, First days: go, light, full main"),
        (NO_CALL, "Thu 22 Oct 09:30, Crew: no call"),
    ] {
        assert_eq!(one(index).subject, subject);
    }
    let mut without = advisory(MARGINAL);
    without.way_out = None;
    assert_eq!(
        digest(&[without], &[], now()).subject,
        "Sat 17 Oct 09:30, First days: marginal, 1 reef"
    );
    assert_eq!(
        digest(&advisories(), &[], now()).subject,
        "Sat 17 Oct 09:30, First days: marginal, back by 14:15 (and 4 more)"
    );
    assert_eq!(
        digest(&[advisory(GO)], &[], later()).subject,
        "Sat 17 Oct 10:00, Skippers in training: old, no call"
    );
    let go = advisory(GO);
    for (decided, said) in [
        (Decided::On, "club decided on; call go, 1 reef"),
        (Decided::Off, "club decided off; call go"),
        (Decided::Moved, "club decided moved; call go"),
    ] {
        let subject = digest(
            std::slice::from_ref(&go),
            &[decision(&go, decided, Some("note"))],
            now(),
        )
        .subject;
        assert_eq!(subject, format!("Sat 17 Oct 10:00, Skippers in training: {said}"));
    }
}

#[test]
fn a_change_names_what_was_what_is_and_why() {
    let no_go = advisory(NO_GO);
    let mail = change(&no_go, &[], &told(GO), now()).unwrap();
    assert_eq!(
        mail.subject,
        "Changed: Sun 18 Oct 09:30, First days: no-go (was go)"
    );
    for words in [
        "Changed: Sunday 18 October",
        "The call is: no-go; it was go.",
        "Why: Gusts 34.4 kn at 12:00; caution from 22, stop at 28.",
        "run of Fri 16 Oct 18:00 UTC",
        "What stops it",
    ] {
        assert!(
            one_line(&mail.text).contains(words),
            "no {words} in\n{}",
            mail.text
        );
    }
    let go = advisory(GO);
    let off = [decision(&go, Decided::Off, Some("no instructor"))];
    let mail = change(&go, &off, &told(GO), now()).unwrap();
    assert_eq!(
        mail.subject,
        "Changed: Sat 17 Oct 10:00, Skippers in training: club decided off; call go"
    );
    assert!(
        one_line(&mail.text).contains(
            "The club decided: off: no instructor (A. Keel, Fri 18:40); before, nothing was decided."
        )
    );
    // Off after on, and the call another too.
    let was = Told {
        decision: Some(decision(&go, Decided::On, None)),
        ..told(MARGINAL)
    };
    let mail = change(&go, &off, &was, now()).unwrap();
    assert!(
        mail.subject
            .ends_with("club decided off (was on); call go (was marginal)"),
        "{}",
        mail.subject
    );
    assert!(one_line(&mail.text).contains("before it was on (A. Keel, Fri 18:40)."));
    let why = "Why: A good sailing breeze that builds; inside every limit until alongside.";
    assert!(one_line(&mail.text).contains(why), "a kinder call says why too");
    // What is told is what stands: nothing to say. A sail plan that has moved is no change.
    assert_eq!(change(&go, &[], &told(GO), now()), None);
    let other_plan = Told {
        plan: Some("2 reefs.".to_owned()),
        ..told(GO)
    };
    assert_eq!(change(&go, &[], &other_plan, now()), None);
    let mail = change(&go, &off, &other_plan, now()).unwrap();
    assert!(
        one_line(&mail.text).contains("½ headsail; it was 2 reefs."),
        "{}",
        mail.text
    );
    // What was told is kept as JSON between mails.
    let kept = serde_json::to_string(&was).unwrap();
    assert_eq!(serde_json::from_str::<Told>(&kept).unwrap(), was);
}
