//! The policy in plain lines: which of its numbers the club has made its own.
//!
//! Owns: those lines. Must not know: what the numbers do, files, terminals.

use crate::policy::Policy;

/// A line to each number that is not the default, as the file would write it.
pub(crate) fn policy_lines(policy: &Policy) -> Vec<String> {
    let (Ok(given), Ok(defaults)) = (
        toml::Table::try_from(policy),
        toml::Table::try_from(Policy::default()),
    ) else {
        return Vec::new();
    };
    let own: Vec<String> = given
        .iter()
        .filter_map(|(key, value)| {
            let default = defaults.get(key)?;
            (value != default).then(|| format!("  {key} = {value} (default {default})"))
        })
        .collect();
    let rest = match own.len() {
        0 => "every number is the default",
        _ => "every other number is the default",
    };
    own.into_iter().chain([format!("  {rest}")]).collect()
}
