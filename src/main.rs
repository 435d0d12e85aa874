//! The command-line program: arguments in, calls to the library, files, messages and an exit status out.

mod cli;

fn main() -> std::process::ExitCode {
    cli::main()
}
