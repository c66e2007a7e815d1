//! The fields of a form: label, value, and what is wrong with it, said at the field itself.

/// One field.
pub(super) struct Field {
    /// Its key in what is sent.
    pub name: &'static str,
    /// What stands over it.
    pub label: &'static str,
    /// What it holds.
    pub value: String,
    /// What can be chosen, if it is a choice.
    pub choices: Vec<Choice>,
    /// What is wrong with what it holds.
    pub wrong: Option<String>,
}

/// One of several.
pub(super) struct Choice {
    /// Its key in what is sent.
    pub key: String,
    /// As shown.
    pub name: String,
    /// It is what the field holds.
    pub chosen: bool,
}

impl Field {
    /// A field to write in.
    pub fn written(name: &'static str, label: &'static str, value: &str) -> Self {
        Self {
            name,
            label,
            value: value.to_owned(),
            choices: Vec::new(),
            wrong: None,
        }
    }

    /// A choice of keys with their names.
    pub fn choice<'a>(
        (name, label): (&'static str, &'static str),
        held: &str,
        of: impl Iterator<Item = (&'a str, &'a str)>,
    ) -> Self {
        let choice = |(key, name): (&str, &str)| Choice {
            key: key.to_owned(),
            name: name.to_owned(),
            chosen: key == held,
        };
        Self {
            choices: of.map(choice).collect(),
            ..Self::written(name, label, held)
        }
    }

    /// Boxes to tick, of which any number is held.
    pub fn several<'a>(
        (name, label): (&'static str, &'static str),
        held: &[String],
        of: impl Iterator<Item = (&'a str, &'a str)>,
    ) -> Self {
        let choice = |(key, name): (&str, &str)| Choice {
            key: key.to_owned(),
            name: name.to_owned(),
            chosen: held.iter().any(|one| one == key),
        };
        Self {
            choices: of.map(choice).collect(),
            ..Self::written(name, label, "")
        }
    }

    /// With what is wrong, if it is this field that is.
    pub fn but(mut self, wrong: Option<(&str, &str)>) -> Self {
        let here = wrong.filter(|(name, _)| *name == self.name);
        self.wrong = here.map(|(_, words)| crate::wording::ended(words));
        self
    }
}
