//! Starting Chromium and ending it.

use crate::page::Page;
use crate::protocol::{Connection, DEADLINE};
use anyhow::{Context, Result, anyhow, bail};
use serde_json::json;
use std::env;
use std::ffi::OsString;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex, PoisonError, Weak};
use std::thread;
use std::time::{Duration, Instant};
use tempfile::TempDir;

const NAMES: [&str; 3] = ["chromium", "chromium-browser", "google-chrome"];
/// The environment variable that names another browser.
const CHOICE: &str = "MASSTONE_CHROMIUM";

const SWITCHES: [&str; 18] = [
    "--headless",
    "--disable-gpu",
    // Machines with little shared memory.
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--no-default-browser-check",
    "--remote-debugging-port=0",
    // It says nothing to anybody of its own accord, and finds nobody.
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-default-apps",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
    // A frame of another site stays in its page's process, whose requests are seen.
    "--disable-site-isolation-trials",
    "--disable-features=IsolateOrigins,site-per-process",
    // One picture on every machine.
    "--force-color-profile=srgb",
    "--hide-scrollbars",
    "--font-render-hinting=none",
    "--disable-lcd-text",
];

/// A running Chromium with a profile of its own; it ends when this is dropped.
///
/// Don't keep it in a `static`: what is static is never dropped, and the browser would outlive the tests.
#[derive(Debug)]
pub struct Browser {
    process: Child,
    profile: TempDir,
    port: u16,
    connection: Mutex<Connection>,
}

impl Browser {
    /// Starts Chromium: the one that the environment variable `MASSTONE_CHROMIUM` names, else `chromium`, `chromium-browser` or
    /// `google-chrome` on the PATH.
    ///
    /// # Errors
    /// If there is none (the error says how to install it), or it doesn't start.
    pub fn start() -> Result<Self> {
        Self::start_program(&find(env::var_os(CHOICE), env::var_os("PATH"))?)
    }

    /// The browser that other tests of this process use just now, else a new one: a start takes half a second.
    ///
    /// Each of its pages has cookies, storage and cache of its own.
    ///
    /// # Errors
    /// As [`Self::start`].
    pub fn shared() -> Result<Arc<Self>> {
        static SHARED: Mutex<Weak<Browser>> = Mutex::new(Weak::new());
        let mut shared = SHARED.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(running) = shared.upgrade() {
            return Ok(running);
        }
        let started = Arc::new(Self::start()?);
        *shared = Arc::downgrade(&started);
        Ok(started)
    }

    /// A new blank page, 1280 × 800 CSS pixels at scale 1.
    ///
    /// # Errors
    /// If Chromium is gone.
    pub fn page(&self) -> Result<Page> {
        let mut connection = self.connection();
        let context = connection.call(
            "Target.createBrowserContext",
            json!({"disposeOnDetach": true}),
        )?;
        let target = connection.call(
            "Target.createTarget",
            json!({"url": "about:blank", "browserContextId": context["browserContextId"]}),
        )?;
        let id = target["targetId"]
            .as_str()
            .context("Chromium made no page")?;
        Page::attach(Connection::open(
            self.port,
            &format!("/devtools/page/{id}"),
        )?)
    }

    fn start_program(program: &Path) -> Result<Self> {
        let profile = tempfile::Builder::new()
            .prefix("masstone-browser-")
            .tempdir()?;
        let said = profile.path().join("said");
        let mut command = Command::new(program);
        command
            .args(SWITCHES)
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .arg("about:blank")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(File::create(&said)?);
        if is_root() {
            // Chromium's sandbox refuses root.
            command.arg("--no-sandbox");
        }
        let mut process = command
            .spawn()
            .with_context(|| format!("{} does not start", program.display()))?;
        let connected = port_file(&mut process, profile.path())
            .and_then(|(port, path)| Ok((port, Connection::open(port, &path)?)));
        match connected {
            Ok((port, connection)) => Ok(Self {
                process,
                profile,
                port,
                connection: Mutex::new(connection),
            }),
            Err(error) => {
                process.kill().ok();
                process.wait().ok();
                let said = fs::read_to_string(said).unwrap_or_default();
                Err(error.context(format!("{} said: {said}", program.display())))
            }
        }
    }

    fn connection(&self) -> std::sync::MutexGuard<'_, Connection> {
        self.connection
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // Asked first, so that its helper processes end too; then made to.
        self.connection().call("Browser.close", json!({})).ok();
        let end = Instant::now() + Duration::from_secs(3);
        while Instant::now() < end {
            if matches!(self.process.try_wait(), Ok(Some(_)) | Err(_)) {
                break;
            }
            thread::sleep(Duration::from_millis(10));
        }
        self.process.kill().ok();
        self.process.wait().ok();
        // A helper may still be writing: what is then left is a temporary folder.
        for _ in 0..20 {
            if fs::remove_dir_all(self.profile.path()).is_ok() {
                break;
            }
            thread::sleep(Duration::from_millis(20));
        }
    }
}

/// The port and the path that Chromium has chosen, from the file that it writes once it listens.
fn port_file(process: &mut Child, profile: &Path) -> Result<(u16, String)> {
    let file = profile.join("DevToolsActivePort");
    let end = Instant::now() + DEADLINE;
    while Instant::now() < end {
        let text = fs::read_to_string(&file).unwrap_or_default();
        if let Some((port, path)) = text.split_once('\n')
            && path.contains("/browser/")
        {
            return Ok((port.parse().context("no port")?, path.trim().to_owned()));
        }
        if let Some(status) = process.try_wait()? {
            bail!("it ended at once ({status})");
        }
        thread::sleep(Duration::from_millis(10));
    }
    bail!("it does not listen after {} s", DEADLINE.as_secs())
}

fn find(choice: Option<OsString>, path: Option<OsString>) -> Result<PathBuf> {
    if let Some(choice) = choice {
        let program = PathBuf::from(choice);
        return if program.is_file() {
            Ok(program)
        } else {
            Err(anyhow!(
                "{CHOICE} names {}, which is no file",
                program.display()
            ))
        };
    }
    let folders: Vec<PathBuf> = env::split_paths(&path.unwrap_or_default()).collect();
    NAMES
        .iter()
        .flat_map(|name| folders.iter().map(move |it| it.join(name)))
        .find(|it| it.is_file())
        .ok_or_else(|| {
            anyhow!(
                "no Chromium on the PATH ({}): run tests/browser/install, or name another with {CHOICE}",
                NAMES.join(", ")
            )
        })
}

/// Whether this process is root's, as far as the system tells without unsafe calls: the owner of its own folder in /proc.
fn is_root() -> bool {
    use std::os::unix::fs::MetadataExt;
    fs::metadata("/proc/self").is_ok_and(|it| it.uid() == 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_missing_is_named_with_the_way_to_get_it() {
        let empty = tempfile::tempdir().unwrap();
        let error = find(None, Some(empty.path().into()))
            .unwrap_err()
            .to_string();
        assert!(error.contains("tests/browser/install"), "{error}");
        let error = find(Some("/no/such".into()), None).unwrap_err().to_string();
        assert!(
            error.contains("MASSTONE_CHROMIUM names /no/such"),
            "{error}"
        );
    }

    #[test]
    fn the_first_name_on_the_path_is_taken() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["google-chrome", "chromium-browser"] {
            fs::write(folder.path().join(name), "").unwrap();
        }
        let found = find(None, Some(folder.path().into())).unwrap();
        assert_eq!(found, folder.path().join("chromium-browser"));
    }

    #[test]
    fn a_program_that_is_no_browser_is_said_to_have_ended() {
        let error = Browser::start_program(Path::new("/bin/false")).unwrap_err();
        assert!(format!("{error:#}").contains("ended at once"), "{error:#}");
    }

    #[test]
    fn nothing_is_left_when_it_is_dropped() {
        let browser = Browser::start().unwrap();
        let (pid, profile) = (browser.process.id(), browser.profile.path().to_owned());
        assert!(Path::new(&format!("/proc/{pid}")).exists() && profile.exists());
        drop(browser);
        assert!(!Path::new(&format!("/proc/{pid}")).exists());
        assert!(!profile.exists());
    }

    #[test]
    fn tests_share_one_while_they_use_it() {
        let one = Browser::shared().unwrap();
        assert_eq!(one.port, Browser::shared().unwrap().port);
    }
}
