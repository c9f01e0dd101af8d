//! Arguments in, exit status out; all else is in the library.

#![forbid(unsafe_code)]

fn main() -> std::process::ExitCode {
    tractwright::commands::run()
}
