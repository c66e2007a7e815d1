//! The style sheet of the pages, as the drawing program can read it: the rules of marks, glyphs and charts, with the light
//! colours in place of their names.
//!
//! Owns: which rules are taken. Must not know: what they say; there is no second copy of a rule or a colour.

use crate::html::STYLE;
use std::collections::HashMap;

/// The family that stands for the pages' sans.
pub(super) const SANS: &str = "DejaVu Sans";
/// And for their serif.
pub(super) const SERIF: &str = "DejaVu Serif";

/// What a selector begins with if its rule is one of a drawing's.
const DRAWN: [&str; 4] = [".ladder", ".sail", ".pat-", ".mark"];

/// Selectors and declarations.
type Rule<'a> = (&'a str, &'a str);

/// The rules of drawings, without a name of a colour or font that has yet to be looked up.
pub(super) fn of_drawings() -> String {
    let sheet = without_comments(STYLE);
    let rules = rules(&sheet);
    let tokens = tokens(&rules);
    let drawn = rules.iter().filter(|(selectors, _)| {
        selectors
            .split(',')
            .all(|selector| DRAWN.iter().any(|start| selector.trim().starts_with(start)))
    });
    drawn
        .map(|(selectors, said)| format!("{selectors}{{{}}}\n", looked_up(said, &tokens)))
        .collect()
}

/// A colour of the light page, as the sheet writes it: "#fdfcf8" for `--paper`.
pub(crate) fn light(name: &str) -> String {
    let sheet = without_comments(STYLE);
    let rules = rules(&sheet);
    tokens(&rules)
        .get(name)
        .map_or_else(String::new, |value| (*value).to_owned())
}

/// The ground: red, green, blue. White where the style sheet does not say.
pub(super) fn paper() -> [u8; 3] {
    rgb(&light("--paper")).unwrap_or([u8::MAX; 3])
}

/// Of "#fdfcf8".
fn rgb(colour: &str) -> Option<[u8; 3]> {
    let digits = colour.strip_prefix('#').filter(|digits| digits.len() == 6)?;
    let [_, red, green, blue] = u32::from_str_radix(digits, 16).ok()?.to_be_bytes();
    Some([red, green, blue])
}

fn without_comments(sheet: &str) -> String {
    let mut parts = sheet.split("/*");
    let first = parts.next().unwrap_or_default().to_owned();
    let after = |part: &str| {
        part.split_once("*/")
            .map_or_else(String::new, |(_, rest)| rest.to_owned())
    };
    first + &parts.map(after).collect::<String>()
}

/// The rules that always hold: none of those inside an at-rule.
fn rules(sheet: &str) -> Vec<Rule<'_>> {
    let mut found = Vec::new();
    let mut rest = sheet;
    while let Some((selectors, after)) = rest.split_once('{') {
        let selectors = selectors.trim();
        let at_rule = selectors.starts_with('@');
        let length = if at_rule { block(after) } else { after.find('}') };
        let Some(length) = length else { break };
        if !at_rule {
            found.push((selectors, after[..length].trim()));
        }
        rest = &after[length + 1..];
    }
    found
}

/// Where the block ends that has just begun.
fn block(text: &str) -> Option<usize> {
    let mut open = 1;
    text.char_indices().find_map(|(at, sign)| {
        match sign {
            '{' => open += 1,
            '}' => open -= 1,
            _ => {}
        }
        (open == 0).then_some(at)
    })
}

/// Names of colours and fonts with what they stand for, those of the light page.
fn tokens<'a>(rules: &[Rule<'a>]) -> HashMap<&'a str, &'a str> {
    let root = rules.iter().find(|(selectors, _)| *selectors == ":root");
    let said = root.map_or("", |(_, said)| *said).split(';');
    let mut tokens: HashMap<&str, &str> = said
        .filter_map(|one| one.split_once(':'))
        .map(|(name, value)| (name.trim(), value.trim()))
        .filter(|(name, _)| name.starts_with("--"))
        .collect();
    tokens.extend([("--sans", SANS), ("--serif", SERIF)]);
    tokens
}

fn looked_up(said: &str, tokens: &HashMap<&str, &str>) -> String {
    tokens.iter().fold(said.to_owned(), |said, (name, value)| {
        said.replace(&format!("var({name})"), value)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_is_looked_up_and_nothing_is_left_that_the_drawing_program_cannot_read() {
        let style = of_drawings();
        for no in ["var(", "@", ":not", "/*", "display:none"] {
            assert!(!style.contains(no), "{no} in {style}");
        }
        for yes in [
            ".ladder .m{fill:#9c0f5f}",
            ".ladder text{fill:#14212b;font-size:13px}",
            ".pat-sea{stroke:#1b4f78}",
            ".ladder .pier{fill:#14212b}",
            ".mark .bg.mg{fill:#ecd596}",
            ".sail .slit{stroke:#fdfcf8;stroke-width:1.7}",
            "font-family:DejaVu Serif",
        ] {
            assert!(style.contains(yes), "no {yes} in {style}");
        }
        assert_eq!(paper(), [0xfd, 0xfc, 0xf8]);
    }
}
