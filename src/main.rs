//! Start and exit code; everything else is in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    borescribe::cli::run::run()
}
