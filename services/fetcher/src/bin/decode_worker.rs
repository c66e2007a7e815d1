//! The decoding child by itself, for tests of this package.

fn main() -> std::process::ExitCode {
    fetcher::decoder::run_worker()
}
