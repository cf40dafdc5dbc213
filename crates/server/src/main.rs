//! The binary: configuration, commands, wiring, start and stop.

mod command;
mod configuration;
mod listener;
mod wiring;

use std::process::ExitCode;

use clap::Parser;

use configuration::{Arguments, Command};

#[tokio::main]
async fn main() -> ExitCode {
    let arguments = Arguments::parse();
    wiring::log(&arguments.log);
    let result = match arguments.command {
        Command::Serve(serve) => command::serve::run(&arguments.database, &serve).await,
        Command::Migrate => command::migrate::run(&arguments.database).await,
        Command::Token(token) => command::token::run(&arguments.database, &token).await,
        Command::Openapi => {
            print!("{}", api::document::pretty());
            Ok(())
        }
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("ovenwright: {failure}");
            ExitCode::FAILURE
        }
    }
}
