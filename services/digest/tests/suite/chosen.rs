//! Each subscriber is told of what they chose, and of nothing where there is nothing.

use crate::shelf::{decide, morning, office, samples, subscribe, with_samples};
use chrono::Weekday;
use club::Choices;
use digests::SAMPLE;
use store::Store;

/// Lines of the mail to each, or that there is none.
async fn mails(store: &Store) -> Vec<(String, String)> {
    let unsent = office(store).unsent(morning()).await.unwrap().into_iter();
    let text = |octets: Vec<u8>| String::from_utf8(octets).unwrap();
    unsent
        .map(|mail| (mail.subscription, text(mail.octets)))
        .collect()
}

fn subject(mail: &str) -> &str {
    mail.lines().find(|line| line.starts_with("Subject: ")).unwrap()
}

#[tokio::test]
async fn choices_say_of_which_sessions_a_mail_tells() {
    let store = with_samples().await;
    let all = Choices::default;
    subscribe(
        &store,
        "a-whimbrel",
        Choices {
            boats: vec!["whimbrel".into()],
            ..all()
        },
    )
    .await;
    subscribe(
        &store,
        "b-crew",
        Choices {
            levels: vec!["crew".into()],
            ..all()
        },
    )
    .await;
    subscribe(
        &store,
        "c-sunday",
        Choices {
            weekdays: vec![Weekday::Sun],
            ..all()
        },
    )
    .await;
    subscribe(
        &store,
        "d-nothing",
        Choices {
            weekdays: vec![Weekday::Wed],
            ..all()
        },
    )
    .await;
    // Sunday's is a no-go, the crew's is no call: on such a day who only sails is told nothing.
    let sailing = |weekdays| Choices {
        weekdays,
        only_when_sailing: true,
        ..all()
    };
    subscribe(&store, "e-sailing", sailing(vec![Weekday::Sun, Weekday::Thu])).await;
    subscribe(&store, "f-sailing", sailing(vec![Weekday::Sat])).await;
    let mails = mails(&store).await;
    let told: Vec<_> = mails.iter().map(|(to, _)| to.as_str()).collect();
    assert_eq!(told, [SAMPLE, "a-whimbrel", "b-crew", "c-sunday", "f-sailing"]);
    let of = |to: &str| subject(&mails.iter().find(|(other, _)| other == to).unwrap().1).to_owned();
    assert!(
        of(SAMPLE).contains("Sat 17 Oct 09:30") && of(SAMPLE).contains("4 more"),
        "{}",
        of(SAMPLE)
    );
    assert!(
        of("a-whimbrel").contains("10:00") && of("a-whimbrel").contains("1 more"),
        "{}",
        of("a-whimbrel")
    );
    assert!(
        of("b-crew").contains("Thu 22 Oct") && of("b-crew").contains("no call"),
        "{}",
        of("b-crew")
    );
    assert!(
        of("c-sunday").contains("Sun 18 Oct") && of("c-sunday").contains("no-go"),
        "{}",
        of("c-sunday")
    );
}

#[tokio::test]
async fn what_the_club_has_called_off_does_not_sail() {
    let store = with_samples().await;
    let sailing = Choices {
        weekdays: vec![Weekday::Sat],
        only_when_sailing: true,
        ..Choices::default()
    };
    subscribe(&store, "anna", sailing).await;
    assert_eq!(mails(&store).await.len(), 2);
    for sample in &samples()[..2] {
        decide(&store, &sample.session.id, "off", morning()).await;
    }
    assert_eq!(mails(&store).await.len(), 1, "the sample's alone");
}

// Source: RFC 5322 (heads, line lengths), RFC 8058 (one click), RFC 3834 (automatic mail), RFC 2919 (list).
#[tokio::test]
async fn a_mail_has_the_heads_that_a_list_s_mail_has() {
    let store = with_samples().await;
    subscribe(&store, "anna", Choices::default()).await;
    let (first, second) = (mails(&store).await, mails(&store).await);
    let mail = &first[1].1;
    for head in [
        "From: \"Harbour office\" <office@club.example>\r\n",
        "To: anna@crew.example\r\n",
        "Auto-Submitted: auto-generated\r\n",
        "List-Id: <pellock-haven.club.example>\r\n",
        "List-Unsubscribe-Post: List-Unsubscribe=One-Click\r\n",
        "List-Unsubscribe: <https://sailing.example/unsubscribe/cringle_",
    ] {
        assert!(mail.contains(head), "{head}:\n{}", &mail[..1500]);
    }
    assert!(mail.lines().all(|line| line.len() <= 998));
    assert!(
        mail.split("\r\n").all(|line| !line.contains(['\r', '\n'])),
        "a bare end of line"
    );
    let id = |mail: &str| {
        mail.lines()
            .find(|line| line.starts_with("Message-ID: <"))
            .unwrap()
            .to_owned()
    };
    assert_eq!(id(mail), id(&second[1].1), "the same mail, made again");
    assert_ne!(id(mail), id(&first[0].1));
}
