use std::fs::OpenOptions;
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

use indicatif::ProgressBar;

use crate::configuration::{DatabaseArguments, DemoArguments};
use crate::demo::{Shift, SignIn, settings, tell};
use crate::output::say;
use crate::wiring::{Failure, database_to_load};

/// Loads the demo company into an empty database; one that has customers already is left as it is.
pub async fn run(database_arguments: &DatabaseArguments, arguments: &DemoArguments) -> Result<(), Failure> {
    let database = database_to_load(database_arguments).await?;
    if !database.is_empty().await? {
        return say("the database has customers already; the demo company is not loaded into it");
    }
    let bar = ProgressBar::new(0).with_message("the demo company");
    let past = (!arguments.stories_only).then(settings);
    let shift = arguments.as_of.map(Shift::to_end_by).unwrap_or_default();
    let sign_ins = tell(database, past, shift, |told, all| {
        bar.set_length(all as u64);
        bar.set_position(told as u64);
    })
    .await?;
    bar.finish_and_clear();
    write(&arguments.sign_ins, &sign_ins).map_err(|error| {
        Failure::Other(format!("the sign-ins cannot be written to {}: {error}", arguments.sign_ins.display()))
    })?;
    say(format_args!("the demo company is loaded; its sign-ins lie in {}", arguments.sign_ins.display()))
}

fn write(path: &Path, sign_ins: &[SignIn]) -> std::io::Result<()> {
    if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        std::fs::create_dir_all(folder)?;
    }
    let mut file = OpenOptions::new().write(true).create(true).truncate(true).mode(0o600).open(path)?;
    for SignIn { name, role, secret } in sign_ins {
        writeln!(file, "{role}\t{name}\t{secret}")?;
    }
    Ok(())
}
