//! What a command prints for whoever called it.

use std::io::{ErrorKind, Write};

use crate::wiring::Failure;

/// Prints a line. A reader who has gone, as the `head` behind a pipe does, is [`Failure::NobodyReads`].
pub fn say(line: impl std::fmt::Display) -> Result<(), Failure> {
    let mut output = std::io::stdout().lock();
    writeln!(output, "{line}").and_then(|()| output.flush()).map_err(|error| match error.kind() {
        ErrorKind::BrokenPipe => Failure::NobodyReads,
        _ => Failure::Other(format!("the answer cannot be printed: {error}")),
    })
}
