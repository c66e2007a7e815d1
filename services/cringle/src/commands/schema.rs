//! `cringle schema`: prints the JSON Schema of a club file, for editors that check while one writes.
//!
//! Owns: the printing. Must not know: what a club file holds, which the `club` crate does.

use std::io::Write;
use std::process::ExitCode;

/// Prints the schema to standard output.
pub fn run() -> ExitCode {
    // A reader that has gone away, such as a closed pager, has read what it wanted.
    let _gone = print(&mut std::io::stdout());
    ExitCode::SUCCESS
}

fn print(out: &mut impl Write) -> std::io::Result<()> {
    out.write_all(club::SCHEMA.as_bytes())?;
    out.flush()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_printed_is_a_schema_of_2020_12() {
        let mut printed = Vec::new();
        print(&mut printed).expect("a list takes everything");
        let schema: serde_json::Value = serde_json::from_slice(&printed).expect("it is JSON");
        // The name of the dialect: JSON Schema Core 2020-12, section 8.1.1.
        assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
        assert_eq!(
            printed.last(),
            Some(&b'\n'),
            "a terminal's prompt begins a new line"
        );
    }
}
