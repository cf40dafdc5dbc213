//! The binary: configuration, commands, wiring, start and stop.

// A closed pipe would make these panic: `output::say` ends quietly.
#![deny(clippy::print_stdout)]

mod command;
mod configuration;
mod connections;
#[cfg(test)]
mod coverage;
mod demo;
mod doors;
mod heard;
mod listener;
mod output;
mod tls;
mod traces;
mod wiring;

use std::process::ExitCode;

use clap::Parser;

use configuration::{Arguments, Command};
use wiring::Failure;

#[tokio::main]
async fn main() -> ExitCode {
    let arguments = Arguments::parse();
    // The demo's own requests would drown what it says.
    let is_demo = matches!(arguments.command, Command::Demo(_));
    wiring::log(if is_demo { "warn" } else { &arguments.log.0 });
    let result = match arguments.command {
        Command::Serve(serve) => command::serve::run(&arguments.database, &serve).await,
        Command::Migrate => command::migrate::run(&arguments.database).await,
        Command::Token(token) => command::token::run(&arguments.database, &token).await,
        Command::Demo(demo) => command::demo::run(&arguments.database, &demo).await,
        Command::Check(check) => command::check::run(&arguments.database, check).await,
        Command::BenchData(bench_data) => command::bench_data::run(&arguments.database, &bench_data).await,
        Command::Openapi => output::say(api::document::pretty().trim_end()),
    };
    match result {
        Ok(()) | Err(Failure::NobodyReads) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("ovenwright: {failure}");
            ExitCode::FAILURE
        }
    }
}
