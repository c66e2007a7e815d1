//! Both parts of every mail: they say the same, fetch nothing, and take any name as words.

use super::*;

/// The words of the HTML part as a reader meets them: a link's words, then where it leads.
fn words_of_html(html: &str) -> Vec<String> {
    let body = html.split_once("<body").unwrap().1;
    let mut text = String::new();
    let mut link = String::new();
    for piece in body.split('<').skip(1) {
        let (tag, words) = piece.split_once('>').unwrap();
        match tag.split([' ', '>']).next().unwrap() {
            "a" => link = attribute(tag, "href"),
            "/a" => text.push_str(&format!(" {}", std::mem::take(&mut link))),
            // What stands inside a line breaks no word.
            "b" | "/b" | "span" | "/span" => {}
            _ => text.push(' '),
        }
        text.push_str(words);
    }
    words(&unescaped(&text))
}

fn attribute(tag: &str, name: &str) -> String {
    let said = tag.split_once(&format!("{name}=\"")).unwrap().1;
    unescaped(said.split_once('"').unwrap().0)
}

/// Source: the HTML Standard, "Named character references" and "decimal numeric character reference", as far as used here.
fn unescaped(text: &str) -> String {
    let references = [
        ("&#60;", "<"),
        ("&#62;", ">"),
        ("&#34;", "\""),
        ("&#39;", "'"),
        ("&nbsp;", " "),
        ("&#38;", "&"),
    ];
    references
        .iter()
        .fold(text.to_owned(), |text, (reference, sign)| {
            text.replace(reference, sign)
        })
}

/// Words without the colon that a line of text needs after a name, and without rules and bullets.
fn words(text: &str) -> Vec<String> {
    let plain = |word: &str| word.trim_end_matches(':').to_owned();
    let of_words = |word: &String| !word.chars().all(|sign| matches!(sign, '-' | '='));
    text.split_whitespace().map(plain).filter(of_words).collect()
}

#[test]
fn both_parts_say_the_same_words_in_the_same_order() {
    for mail in every_mail() {
        let (html, text) = (words_of_html(&mail.html), words(&mail.text));
        assert!(text.len() > 60, "{}", mail.text);
        for (place, (in_html, in_text)) in html.iter().zip(&text).enumerate() {
            assert_eq!(
                in_html,
                in_text,
                "{}: word {place} after {:?}",
                mail.subject,
                &text[place.saturating_sub(8)..place]
            );
        }
        assert_eq!(html.len(), text.len(), "{}", mail.subject);
    }
}

#[test]
fn the_html_fetches_nothing_runs_nothing_and_has_its_style_in_each_element() {
    for mail in every_mail() {
        let html = &mail.html;
        assert!(html.starts_with("<!doctype html>\n<html lang=\"en\">"));
        for no in [
            "<style",
            "<script",
            "<link",
            "<iframe",
            "<svg",
            "class=",
            " id=",
            "url(",
            "@media",
            "var(",
            "javascript:",
            "background=",
        ] {
            assert!(!html.contains(no), "{no} in {}", mail.subject);
        }
        assert!(html.contains("<meta name=\"color-scheme\" content=\"light dark\">"));
        let named: Vec<String> = tags(html, "img").map(|tag| attribute(tag, "src")).collect();
        for source in &named {
            let id = source
                .strip_prefix("cid:")
                .unwrap_or_else(|| panic!("{source} is fetched"));
            let held = mail.pictures.iter().filter(|picture| picture.id == id).count();
            assert_eq!(held, 1, "{source}");
        }
        for picture in &mail.pictures {
            assert!(
                named.contains(&format!("cid:{}", picture.id)),
                "{} is not shown",
                picture.id
            );
            // Source: RFC 2392 (a Content-ID is an addr-spec), RFC 5322, section 3.2.3 (atoms).
            let atoms = picture.id.split_once('@').unwrap();
            let atom = |text: &str| {
                !text.is_empty()
                    && text
                        .chars()
                        .all(|sign| sign.is_ascii_alphanumeric() || sign == '-')
            };
            assert!(atom(atoms.0) && atom(atoms.1), "{}", picture.id);
            assert!(picture.png.starts_with(b"\x89PNG\r\n\x1a\n"));
        }
        for tag in tags(html, "a") {
            assert!(
                attribute(tag, "href").starts_with("https://sailing.example/"),
                "{tag}"
            );
        }
        for tag in tags(html, "table") {
            assert!(tag.contains("role=\"presentation\""), "{tag}");
        }
        // 560 px wide, and never wider than a telephone: no other width is above 320 px.
        let widths = html
            .split(" width=\"")
            .skip(1)
            .map(|rest| rest.split_once('"').unwrap().0);
        assert!(
            widths
                .filter(|width| !width.ends_with('%'))
                .all(|width| ["560", "72", "56", "44", "28"].contains(&width))
        );
    }
}

fn tags<'a>(html: &'a str, name: &'a str) -> impl Iterator<Item = &'a str> {
    let tags = html
        .split('<')
        .skip(1)
        .map(|piece| piece.split_once('>').unwrap().0);
    tags.filter(move |tag| tag.split(' ').next() == Some(name))
}

// Source: RFC 5322, section 2.2 (a header field's body holds no bare CR or LF), section 2.1.1 (78 and 998).
#[test]
fn names_from_a_club_arrive_as_words_and_break_neither_head_nor_line() {
    let mut wild = hostile();
    wild.session.level.name = "First\r\nBcc: crew@club.example\r\n\u{202e}days".to_owned();
    wild.club.name = "Club\r\n\r\n<b>".to_owned();
    let off = decision(&wild, Decided::Off, Some("a\u{1b}[2J\nb"));
    for mail in [
        digest(std::slice::from_ref(&wild), std::slice::from_ref(&off), now()),
        digest(std::slice::from_ref(&wild), &[], later()),
        change(&wild, &[off], &told(GO), now()).unwrap(),
        mail::confirm(
            (&wild.club, HOSTILE),
            MANAGE,
            wild.valid_until,
            &[HOSTILE.to_owned()],
            false,
        )
        .unwrap(),
    ] {
        let steers = |sign: char| sign.is_control() || sign == '\u{202e}';
        assert!(!mail.subject.contains(steers), "{:?}", mail.subject);
        assert!(mail.subject.chars().count() < 200);
        for part in [&mail.text, &mail.html] {
            assert!(part.ends_with('\n') && part.lines().all(|line| !line.contains(steers)));
        }
        assert!(!mail.html.contains("<script") && !mail.html.contains("<b>\n"));
        assert!(!mail.text.lines().any(|line| line.starts_with("Bcc")));
        for line in mail.text.lines() {
            let short = line.chars().count() <= 72;
            assert!(
                short || !line.trim_start_matches(['-', ' ']).contains(' '),
                "{line}"
            );
        }
    }
}
