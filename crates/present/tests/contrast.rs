//! The tokens of the style sheet that words stand in, against every ground they stand on, light and dark.
//!
//! Source: WCAG 2.2, "relative luminance" and "contrast ratio" (definitions), success criteria 1.4.3 (4.5 for text) and 1.4.6
//! (7 for text, level AAA); the check values black on white 21 and #777 on white 4.48 are computed from the definitions by hand.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "helpers of tests fail by panicking"
)]

use std::collections::HashMap;

type Tokens = HashMap<String, String>;

/// The tokens of the first rule with this selector after a place.
fn tokens(style: &str, selector: &str) -> Tokens {
    let rule = style
        .split_once(selector)
        .unwrap_or_else(|| panic!("no {selector}"))
        .1;
    let rule = rule.split_once('}').unwrap().0;
    rule.split(';')
        .filter_map(|said| said.trim().strip_prefix("--")?.split_once(':'))
        .map(|(name, value)| (name.trim().to_owned(), value.trim().to_owned()))
        .collect()
}

fn luminance(colour: &str) -> f64 {
    let digits = colour
        .strip_prefix('#')
        .unwrap_or_else(|| panic!("{colour} is no colour"));
    let each: Vec<String> = match digits.len() {
        3 => digits.chars().map(|digit| format!("{digit}{digit}")).collect(),
        6 => [0, 2, 4].map(|at| digits[at..at + 2].to_owned()).into(),
        _ => panic!("{colour} is no colour"),
    };
    let linear = |pair: &String| {
        let value = f64::from(u8::from_str_radix(pair, 16).unwrap()) / 255.0;
        if value <= 0.04045 {
            value / 12.92
        } else {
            ((value + 0.055) / 1.055).powf(2.4)
        }
    };
    let parts: Vec<f64> = each.iter().map(linear).collect();
    0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]
}

fn contrast(one: &str, other: &str) -> f64 {
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

/// Ink, second ink and magenta on paper, on each band of the ladder and on the fan.
fn pairs_hold(named: &str, tokens: &Tokens) {
    for (word, at_least) in [("ink", 7.0), ("ink2", 4.5), ("mag", 4.5)] {
        for ground in ["paper", "t0", "t1", "t2", "t3", "fan", "buff"] {
            let ratio = contrast(&tokens[word], &tokens[ground]);
            assert!(
                ratio >= at_least,
                "{named}: {word} on {ground} is {ratio:.2}, needs {at_least}"
            );
        }
    }
    // Outlines that carry a meaning (1.4.11, 3 for graphics).
    for ground in ["paper", "t3", "fan"] {
        let ratio = contrast(&tokens["edge"], &tokens[ground]);
        assert!(ratio >= 3.0, "{named}: the fan's edge on {ground} is {ratio:.2}");
    }
}

#[test]
fn words_have_contrast_on_every_ground_light_dark_on_the_sheet_and_in_print() {
    let style = present::html::STYLE;
    let light = tokens(style, ":root{");
    pairs_hold("light", &light);
    let dark = style.split_once("(prefers-color-scheme:dark)").unwrap().1;
    pairs_hold("dark", &tokens(dark, ":root{"));
    pairs_hold("sheet", &tokens(style, "html.mono{"));
    let print = style.split_once("@media print{").unwrap().1;
    pairs_hold("print", &tokens(print, ":root{"));
    assert!(
        contrast(&light["ink2"], &light["paper"]) >= 7.0,
        "no grey under 7 on paper: bright sun"
    );
}

#[test]
fn the_formula_gives_the_known_values() {
    assert!((contrast("#000", "#ffffff") - 21.0).abs() < 1e-9);
    assert!((contrast("#777777", "#fff") - 4.48).abs() < 0.005);
}
