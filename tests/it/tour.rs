//! README's tour, word for word: every command, and the output as it is printed there.

use std::process::Command;

use crate::server::Server;

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

#[tokio::test]
async fn the_tour_prints_what_the_readme_shows() {
    let server = Server::with_demo().await;
    let readme = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../README.md")).unwrap();
    let tour = tour(&readme);
    assert!(tour.len() > 15, "the tour has {} commands", tour.len());
    let scratch = std::env::temp_dir().join(format!("tour_{}", uuid::Uuid::new_v4().simple()));
    std::fs::create_dir(&scratch).unwrap();
    let mut script = String::from("set -o pipefail\n");
    for shown in &tour {
        script.push_str(&shown.command);
        script.push_str("\nprintf '\\036'\n");
    }
    let script = script
        .replace("/tmp/", &format!("{}/", scratch.display()))
        .replace("http://127.0.0.1:8080", &format!("http://{}", server.address))
        .replace(".local/sign-ins", server.sign_ins.to_str().unwrap());
    let ran = Command::new("bash").arg("-c").arg(script).output().unwrap();
    std::fs::remove_dir_all(&scratch).unwrap();
    let printed = String::from_utf8(ran.stdout).unwrap();
    let printed: Vec<_> = printed.split('\u{1e}').collect();
    for (shown, printed) in tour.iter().zip(&printed) {
        let errors = String::from_utf8_lossy(&ran.stderr);
        assert_eq!(shown.output.trim_end(), printed.trim_end(), "$ {}\n{errors}", shown.command);
    }
    assert_eq!(printed.len(), tour.len() + 1, "every command ran");
}
