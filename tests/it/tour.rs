//! README's tour, word for word: every command, and the output as it is printed there. With `OVENWRIGHT_WRITE_TOUR`
//! (`scripts/update tour`) the outputs are written into README instead.

use std::process::Command;

use crate::server::Server;

const README: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../README.md");

/// A command of the tour and the output that README shows for it.
struct Shown {
    command: String,
    output: String,
}

fn tour(readme: &str) -> Vec<Shown> {
    let mut shown: Vec<Shown> = Vec::new();
    let mut inside = false;
    for line in readme.lines() {
        match line {
            "```console" => inside = true,
            "```" => inside = false,
            _ if !inside => {}
            _ => match (line.strip_prefix("$ "), line.strip_prefix("> "), shown.last_mut()) {
                (Some(command), ..) => {
                    shown.push(Shown { command: command.to_owned(), output: String::new() });
                }
                (None, Some(more), Some(last)) if last.output.is_empty() => {
                    last.command.push('\n');
                    last.command.push_str(more);
                }
                (None, _, Some(last)) => {
                    last.output.push_str(line);
                    last.output.push('\n');
                }
                (None, _, None) => panic!("the tour begins with output: {line}"),
            },
        }
    }
    shown
}

/// The readme with these outputs in place of those that it shows.
fn with_outputs(readme: &str, printed: &[&str]) -> String {
    let mut written = String::new();
    let mut printed = printed.iter();
    let mut due = None;
    let mut inside = false;
    for line in readme.lines() {
        let is_typed = line.starts_with("$ ") || line.starts_with("> ");
        if inside && !is_typed && line != "```" {
            continue;
        }
        if !line.starts_with("> ")
            && let Some(output) = due.take()
        {
            written.push_str(output);
        }
        match line {
            "```console" => inside = true,
            "```" => inside = false,
            _ if inside && line.starts_with("$ ") => due = printed.next().copied(),
            _ => {}
        }
        written.push_str(line);
        written.push('\n');
    }
    written
}

#[tokio::test]
async fn the_tour_prints_what_the_readme_shows() {
    let server = Server::with_demo_as_of("today").await;
    let readme = std::fs::read_to_string(README).unwrap();
    let tour = tour(&readme);
    assert!(tour.len() > 12, "the tour has {} commands", tour.len());
    let mut script = String::from("set -o pipefail\n");
    for shown in &tour {
        script.push_str(&shown.command);
        script.push_str("\nprintf '\\036'\n");
    }
    let script = script
        .replace("http://127.0.0.1:8080", &format!("http://{}", server.address))
        .replace(".local/sign-ins", server.sign_ins.to_str().unwrap());
    let ran = Command::new("bash").arg("-c").arg(script).output().unwrap();
    let printed = String::from_utf8(ran.stdout).unwrap();
    let printed: Vec<_> = printed.split('\u{1e}').collect();
    let errors = String::from_utf8_lossy(&ran.stderr);
    assert_eq!(printed.len(), tour.len() + 1, "every command ran; {errors}");
    if std::env::var_os("OVENWRIGHT_WRITE_TOUR").is_some() {
        std::fs::write(README, with_outputs(&readme, &printed)).unwrap();
        return;
    }
    for (shown, printed) in tour.iter().zip(&printed) {
        assert_eq!(shown.output.trim_end(), printed.trim_end(), "$ {}\n{errors}", shown.command);
    }
    assert_eq!(readme, with_outputs(&readme, &printed), "scripts/update tour would change it");
}
