//! Settings laid over catalogue entries, as TOML tables, before they are read.
//!
//! Owns: which field replaces which. Must not know: what the fields mean, where settings lie.

use toml::{Table, Value};

/// The field whose entries are merged one by one, and the field that tells them apart.
const WANT: &str = "want";
const PARAMETER: &str = "parameter";
/// The service that cuts files to an area.
const SUBSET: &str = "subset";

/// Lays settings for one feed over its entry. A field replaces the entry's; `want` as a table of parameters changes or
/// adds single wanted quantities, as a list it replaces them all.
///
/// # Errors
/// What is wrong, in words.
pub(crate) fn lay_over(entry: &mut Table, settings: &Table) -> Result<(), String> {
    // Whoever names another server means that one: the producer's own service is then not asked behind their back.
    if settings.contains_key("base_url") && !settings.contains_key(SUBSET) {
        entry.remove(SUBSET);
    }
    for (key, value) in settings {
        match (key.as_str(), value) {
            ("name", _) => return Err("a feed's name cannot be changed by settings".into()),
            (WANT, Value::Table(changes)) => lay_over_wanted(entry, changes)?,
            (SUBSET, Value::Table(changes)) if entry.contains_key(SUBSET) => lay_over_subset(entry, changes),
            _ => {
                entry.insert(key.clone(), value.clone());
            }
        }
    }
    Ok(())
}

/// Single fields of the subset service, so that its address can be set by itself.
fn lay_over_subset(entry: &mut Table, changes: &Table) {
    if let Some(Value::Table(subset)) = entry.get_mut(SUBSET) {
        subset.extend(changes.clone());
    }
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
