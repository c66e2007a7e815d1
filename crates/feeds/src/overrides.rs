//! Settings laid over catalogue entries, as TOML tables, before they are read.
//!
//! Owns: which field replaces which. Must not know: what the fields mean, where settings lie.

use toml::{Table, Value};

/// The field whose entries are merged one by one, and the field that tells them apart.
const WANT: &str = "want";
const PARAMETER: &str = "parameter";

/// Lays settings for one feed over its entry. A field replaces the entry's; `want` as a table of parameters changes or
/// adds single wanted quantities, as a list it replaces them all.
///
/// # Errors
/// What is wrong, in words.
pub(crate) fn lay_over(entry: &mut Table, settings: &Table) -> Result<(), String> {
    for (key, value) in settings {
        match (key.as_str(), value) {
            ("name", _) => return Err("a feed's name cannot be changed by settings".into()),
            (WANT, Value::Table(changes)) => lay_over_wanted(entry, changes)?,
            _ => {
                entry.insert(key.clone(), value.clone());
            }
        }
    }
    Ok(())
}

fn lay_over_wanted(entry: &mut Table, changes: &Table) -> Result<(), String> {
    let wanted = entry.entry(WANT).or_insert_with(|| Value::Array(Vec::new()));
    let Value::Array(wanted) = wanted else {
        return Err("want is no list in the entry".into());
    };
    for (parameter, change) in changes {
        let Value::Table(change) = change else {
            return Err(format!("want.{parameter} must be a table of fields"));
        };
        if change.contains_key(PARAMETER) {
            return Err(format!(
                "want.{parameter} is named by its key; parameter must not stand inside it"
            ));
        }
        let is_it = |want: &&mut Table| want.get(PARAMETER).and_then(Value::as_str) == Some(parameter);
        match wanted.iter_mut().filter_map(Value::as_table_mut).find(is_it) {
            Some(want) => want.extend(change.clone()),
            None => {
                let mut want = change.clone();
                want.insert(PARAMETER.to_owned(), Value::String(parameter.clone()));
                wanted.push(Value::Table(want));
            }
        }
    }
    Ok(())
}
