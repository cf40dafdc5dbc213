//! The image's root without an engine: the binary, the libraries that it asks for, and nothing else; run as nobody who owns
//! anything there. `scripts/image` does the same with an engine.

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use serde_json::Value;

use crate::crash::Cluster;
use crate::knock::tell_beyond;
use crate::server::{Server, binary};

const SOCKET: &str = ".s.PGSQL.5432";
/// The user of the Dockerfile.
const USER: &str = "10001:10001";

/// A folder that holds what the image holds of this service; it goes with the cluster.
struct Root(PathBuf);

impl Root {
    fn assemble(cluster: &Cluster) -> Self {
        let root = Self(PathBuf::from(cluster.beside("root")));
        root.take(&binary(), "usr/local/bin/ovenwright");
        let asked = Command::new("ldd").arg(binary()).output().unwrap();
        let asked = String::from_utf8(asked.stdout).unwrap();
        let libraries = asked.split_whitespace().filter(|word| word.starts_with('/'));
        for library in libraries {
            root.take(Path::new(library), library.trim_start_matches('/'));
        }
        // The database's socket is the same file under another name.
        let socket = Path::new(&cluster.data()).join(SOCKET);
        let place = root.0.join("postgres").join(SOCKET);
        std::fs::create_dir_all(place.parent().unwrap()).unwrap();
        std::fs::hard_link(socket, &place).unwrap();
        std::fs::set_permissions(&place, std::fs::Permissions::from_mode(0o777)).unwrap();
        let opened = Command::new("chmod").args(["-R", "a+rX"]).arg(&root.0).status().unwrap();
        assert!(opened.success());
        root
    }

    fn take(&self, from: &Path, to: &str) {
        let to = self.0.join(to);
        std::fs::create_dir_all(to.parent().unwrap()).unwrap();
        std::fs::copy(from, to).unwrap();
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new("chroot");
        command.arg(format!("--userspec={USER}")).arg(&self.0).arg("/usr/local/bin/ovenwright");
        command.args(arguments).env_clear().env("PATH", std::env::var("PATH").unwrap());
        command
    }

    fn files(&self) -> BTreeSet<PathBuf> {
        let (mut files, mut folders) = (BTreeSet::new(), vec![self.0.clone()]);
        while let Some(folder) = folders.pop() {
            for entry in std::fs::read_dir(folder).unwrap().map(Result::unwrap) {
                if entry.file_type().unwrap().is_dir() {
                    folders.push(entry.path());
                }
                files.insert(entry.path());
            }
        }
        files
    }
}

/// Killed when the test ends, however it ends.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn every_image_of_others_is_named_by_what_is_in_it() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let read = |file| std::fs::read_to_string(root.join(file)).unwrap();
    let built_here = ["ovenwright", "*postgres"];
    let (dockerfile, compose) = (read("Dockerfile"), read("docker-compose.yml"));
    let named = dockerfile.lines().filter_map(|line| line.strip_prefix("FROM "));
    let named = named.chain(compose.lines().filter_map(|line| line.trim().strip_prefix("image: ")));
    let images: Vec<_> = named.filter(|image| !built_here.contains(image)).collect();
    assert_eq!(images.len(), 3, "{images:?}");
    for image in images {
        let digest = image.split_once("@sha256:").map(|(_, digest)| &digest[..64.min(digest.len())]);
        let is_digest = digest
            .is_some_and(|digest| digest.len() == 64 && digest.bytes().all(|byte| byte.is_ascii_hexdigit()));
        assert!(is_digest, "{image} is a tag alone, which may be another image tomorrow: add @sha256:…");
    }
}

#[tokio::test]
async fn the_binary_runs_alone_in_a_root_that_it_may_not_write_to() {
    let is_root = Command::new("id").arg("-u").output().unwrap().stdout == b"0\n";
    if !is_root {
        eprintln!("only root may change to another root: not tried");
        return;
    }
    let cluster = Cluster::start();
    let outside = Server::empty_on(&cluster.url, &[]).await;
    let name = outside.database_url().rsplit('/').next().unwrap();
    let root = Root::assemble(&cluster);
    let before = root.files();
    let url = format!("postgres://ovenwright@%2Fpostgres/{name}");

    let document = root.command(&["openapi"]).output().unwrap();
    assert!(document.status.success(), "{}", String::from_utf8_lossy(&document.stderr));
    assert!(serde_json::from_slice::<Value>(&document.stdout).is_ok());
    let checked = root.command(&["check"]).env("DATABASE_URL", &url).output().unwrap();
    assert!(checked.status.success(), "{}", String::from_utf8_lossy(&checked.stderr));
    let mut serve = root.command(&["serve", "--listen", "127.0.0.1:0"]);
    let child = serve.env("DATABASE_URL", &url).stderr(Stdio::piped()).spawn().unwrap();
    let mut running = Running(child);
    let mut log = BufReader::new(running.0.stderr.take().unwrap()).lines();
    let address = loop {
        let line = log.next().expect("it ended before it listened").unwrap();
        let entry: Value = serde_json::from_str(&line).unwrap_or_default();
        if let Some(address) = entry["fields"]["address"].as_str() {
            break address.to_owned();
        }
    };
    std::thread::spawn(move || log.for_each(drop));
    let ready = outside.client.get(format!("http://{address}/readyz")).send().await.unwrap();
    assert_eq!(ready.status(), 200);
    let told = Command::new("kill").arg(running.0.id().to_string()).status().unwrap();
    assert!(told.success());
    assert!(running.0.wait().unwrap().success(), "told to stop, it ends well");
    assert_eq!(root.files(), before, "it left nothing behind");
    tell_beyond(
        "commands in the image's root, as a user who owns nothing there",
        3,
        "all done, nothing written",
    );
}
