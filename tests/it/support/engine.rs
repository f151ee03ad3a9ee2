//! The three engines that browsers are built on: how each is started here, and what it is asked.
//!
//! Each runs without a screen and without a sound card. Chromium brings a silent output of its own;
//! Firefox plays into a silent output of the system; `WebKit` has no windowless mode and gets a screen
//! in memory.

use std::io::BufRead;
use std::io::BufReader;
use std::net::TcpListener;
use std::net::TcpStream;
use std::path::Path;
use std::path::PathBuf;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;

use serde_json::Value;
use serde_json::json;
use tempfile::TempDir;

/// Where Debian puts the browser that `WebKit`'s driver drives, below the libraries of a machine's kind.
const MINI_BROWSER: &str = "webkit2gtk-4.1/MiniBrowser";

/// How long a driver, a screen or an output may take to be there.
const PATIENCE: Duration = Duration::from_secs(40);

/// What a browser is built on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Engine {
    /// Chromium and its kin.
    Chromium,
    /// Firefox.
    Firefox,
    /// `WebKit`, as on many a phone.
    WebKit,
}

/// A driver that runs, with all that it needs; everything ends when this is dropped.
pub(super) struct Driver {
    /// Where it listens.
    pub(super) address: String,
    // The driver first, then what it stands on.
    _processes: Vec<Process>,
    _folder: TempDir,
}

impl Engine {
    /// Starts the engine's driver.
    pub(super) fn drive(self) -> Driver {
        let folder = TempDir::new().unwrap();
        let mut around = Vec::new();
        let port = free_port();
        let mut driver = match self {
            Self::Chromium => chromedriver(port),
            Self::Firefox => {
                let output = silent_output(folder.path(), &mut around);
                geckodriver(port, folder.path(), &output)
            }
            Self::WebKit => webkit_driver(port, &screen(&mut around)),
        };
        wait_for("the driver", || {
            assert_eq!(driver.0.try_wait().unwrap(), None, "the driver ended");
            TcpStream::connect(("127.0.0.1", port)).is_ok()
        });
        around.insert(0, driver);
        Driver {
            address: format!("http://127.0.0.1:{port}"),
            _processes: around,
            _folder: folder,
        }
    }

    /// What a session is asked for; `more` are further arguments of Chromium.
    pub(super) fn wanted(self, more: &[&str]) -> Value {
        match self {
            Self::Chromium => {
                let usual = [
                    "--headless=new",
                    "--no-sandbox",
                    "--disable-dev-shm-usage",
                    "--disable-gpu",
                    "--disable-background-networking",
                    "--disable-component-update",
                    "--disable-sync",
                    "--no-first-run",
                ];
                let args = [&usual[..], more].concat();
                json!({ "goog:chromeOptions": { "args": args } })
            }
            Self::Firefox => json!({ "moz:firefoxOptions": { "args": ["-headless"] } }),
            Self::WebKit => json!({ "webkitgtk:browserOptions": {
                "binary": mini_browser(),
                "args": ["--automation"],
            } }),
        }
    }
}

/// A process that ends, politely, when it is dropped.
struct Process(Child);

impl Process {
    fn start(command: &mut Command, how_to_get_it: &str) -> Self {
        Self::heard(command.stdout(Stdio::null()), how_to_get_it)
    }

    /// The same, where what it says matters.
    fn heard(command: &mut Command, how_to_get_it: &str) -> Self {
        let command = command.stdin(Stdio::null()).stderr(Stdio::null());
        Self(command.spawn().unwrap_or_else(|error| {
            let program = command.get_program().display();
            panic!("{program}: {error}; {how_to_get_it}")
        }))
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        let _ = Command::new("kill").arg(self.0.id().to_string()).status();
        let _ = self.0.wait();
    }
}

fn chromedriver(port: u16) -> Process {
    Process::start(
        Command::new("chromedriver").arg(format!("--port={port}")),
        "scripts/test installs chromium and chromium-driver",
    )
}

fn geckodriver(port: u16, home: &Path, output: &Path) -> Process {
    Process::start(
        Command::new(geckodriver_program())
            .args(["--port", &port.to_string()])
            .env("HOME", home)
            .env("PULSE_SERVER", format!("unix:{}", output.display())),
        "scripts/test installs firefox-esr and builds geckodriver",
    )
}

/// The driver that `scripts/test` built, or one on the path.
fn geckodriver_program() -> PathBuf {
    let target = Path::new(env!("CARGO_TARGET_TMPDIR")).parent().unwrap();
    let built = target.join("tools/bin/geckodriver");
    if built.exists() {
        built
    } else {
        PathBuf::from("geckodriver")
    }
}

fn webkit_driver(port: u16, display: &str) -> Process {
    Process::start(
        Command::new("WebKitWebDriver")
            .arg(format!("--port={port}"))
            .env("DISPLAY", display)
            .env("GDK_BACKEND", "x11")
            .env("LIBGL_ALWAYS_SOFTWARE", "1"),
        "scripts/test installs webkit2gtk-driver",
    )
}

fn mini_browser() -> PathBuf {
    let kinds = std::fs::read_dir("/usr/lib").unwrap();
    kinds
        .map(|kind| kind.unwrap().path().join(MINI_BROWSER))
        .find(|browser| browser.exists())
        .expect("WebKit's browser is here: scripts/test installs webkit2gtk-driver")
}

/// A screen in memory; its name, such as `:1`.
fn screen(around: &mut Vec<Process>) -> String {
    let mut screen = Process::heard(
        Command::new("Xvfb")
            .args(["-displayfd", "1", "-nolisten", "tcp"])
            .args(["-screen", "0", "1280x900x24"])
            .stdout(Stdio::piped()),
        "scripts/test installs xvfb",
    );
    let mut number = String::new();
    let said = screen.0.stdout.take().unwrap();
    BufReader::new(said).read_line(&mut number).unwrap();
    around.push(screen);
    format!(":{}", number.trim())
}

/// An output that plays to nobody, at the pace of a real one; the socket on which it is reached.
fn silent_output(folder: &Path, around: &mut Vec<Process>) -> PathBuf {
    let socket = folder.join("output");
    around.push(Process::start(
        Command::new("pulseaudio")
            .args([
                "-n",
                "--daemonize=no",
                "--exit-idle-time=-1",
                "--use-pid-file=no",
            ])
            .args(["--disable-shm=yes", "--load=module-null-sink"])
            .arg(format!(
                "--load=module-native-protocol-unix auth-anonymous=1 socket={}",
                socket.display()
            ))
            .env("HOME", folder)
            .env("PULSE_RUNTIME_PATH", folder),
        "scripts/test installs pulseaudio",
    ));
    wait_for("the silent output", || socket.exists());
    socket
}

fn free_port() -> u16 {
    let free = TcpListener::bind("127.0.0.1:0").unwrap();
    free.local_addr().unwrap().port()
}

fn wait_for(what: &str, mut there: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !there() {
        assert!(begun.elapsed() < PATIENCE, "{what} did not come");
        std::thread::sleep(Duration::from_millis(20));
    }
}
