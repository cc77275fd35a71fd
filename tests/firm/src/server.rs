//! A PostgreSQL of the tests' own: from the system's packages, in a folder that goes at the end, at a
//! socket in that folder and, where asked, a free port of this computer. It runs as an account
//! without rights.

use skimgauge_firm::Address;
use skimgauge_firm::address::Around;
use std::io::Write;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Nothing takes longer, on a machine that is busy with others.
const PATIENCE: Duration = Duration::from_secs(60);

/// The account that the server runs as where this process is root's, by its number: `nobody`.
const NOBODY: u32 = 65_534;

/// A server, gone with this value; with this process at the latest.
pub struct Server {
    folder: PathBuf,
    bin: PathBuf,
    port: u16,
    /// It ends the server when this process has ended, however that came.
    watch: Option<Child>,
}

/// How a server is set up.
#[derive(Debug, Clone)]
pub struct Setup {
    /// Lines of its settings.
    pub settings: Vec<String>,
    /// Lines of who may come in, before those that let this account in at the socket.
    pub lets_in: Vec<String>,
    /// Where its folder is; a temporary one without it.
    pub folder: Option<PathBuf>,
}

impl Default for Setup {
    fn default() -> Self {
        // Nothing here outlives the machine: a disk that is waited for would only slow the tests.
        Self { settings: vec!["fsync = off".to_owned()], lets_in: Vec::new(), folder: None }
    }
}

impl Setup {
    /// As it is installed, the disk waited for.
    pub fn as_installed() -> Self {
        Self { settings: Vec::new(), ..Self::default() }
    }

    /// With one more line of settings.
    #[must_use]
    pub fn set(mut self, line: &str) -> Self {
        self.settings.push(line.to_owned());
        self
    }
}

/// The folder of PostgreSQL's programs, the newest of those that are installed.
///
/// # Panics
/// There is none: `tests/run firm` installs it.
pub fn programs() -> PathBuf {
    let installed = std::fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
    let mut found: Vec<PathBuf> = installed
        .map(|version| version.path().join("bin"))
        .filter(|bin| bin.join("initdb").exists())
        .collect();
    found.sort();
    let elsewhere = || {
        let path = std::env::var_os("PATH")?;
        std::env::split_paths(&path).find(|folder| folder.join("initdb").exists())
    };
    found.pop().or_else(elsewhere).expect("PostgreSQL's initdb: `tests/run firm` installs it")
}

/// A program that runs as an account without rights.
fn humble(program: &Path) -> Command {
    let mut command = Command::new(program);
    if rustix::process::getuid().is_root() {
        command.uid(NOBODY).gid(NOBODY);
    }
    command.current_dir("/").stdin(Stdio::null());
    command
}

fn run(command: &mut Command) {
    let output = command.output().expect("it starts");
    assert!(output.status.success(), "{command:?}: {}", String::from_utf8_lossy(&output.stderr));
}

fn free_port() -> u16 {
    let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
    listener.local_addr().expect("its number").port()
}

impl Server {
    /// A server with this set-up; `postgres` may come in at the socket.
    ///
    /// # Panics
    /// PostgreSQL is not installed, or does not start.
    pub fn start(setup: &Setup) -> Self {
        let folder = setup.folder.clone().unwrap_or_else(|| {
            tempfile::Builder::new().prefix("firm-").tempdir().expect("a folder").keep()
        });
        let bin = programs();
        give(&folder);
        let data = folder.join("data");
        run(humble(&bin.join("initdb")).arg("-D").arg(&data).args([
            "-U",
            "postgres",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--locale=C.UTF-8",
            "--no-sync",
        ]));
        let port = free_port();
        let mut settings = vec![
            format!("unix_socket_directories = '{}'", folder.display()),
            format!("port = {port}"),
            "listen_addresses = '127.0.0.1'".to_owned(),
            "max_connections = 40".to_owned(),
            "autovacuum_naptime = 600".to_owned(),
        ];
        settings.extend(setup.settings.iter().cloned());
        append(&data.join("postgresql.conf"), &settings);
        if !setup.lets_in.is_empty() {
            let mut lines = setup.lets_in.clone();
            lines.push("local all all trust".to_owned());
            std::fs::write(data.join("pg_hba.conf"), lines.join("\n") + "\n").expect("pg_hba.conf");
        }
        let mut server = Self { folder, bin, port, watch: None };
        server.watch = Some(server.watched(setup.folder.is_none()));
        server.up();
        server
    }

    /// Ends the server and takes its folder away when this process is no more.
    fn watched(&self, removes: bool) -> Child {
        let (bin, folder) = (self.bin.display(), self.folder.display());
        let removes = if removes { format!("; rm -rf '{folder}'") } else { String::new() };
        let script = format!(
            "cat > /dev/null; '{bin}/pg_ctl' -D '{folder}/data' -m immediate stop > /dev/null 2>&1{removes}"
        );
        humble(Path::new("/bin/sh"))
            .arg("-c")
            .arg(script)
            .stdin(Stdio::piped())
            .process_group(0)
            .spawn()
            .expect("sh")
    }

    /// Starts it, and waits until it answers.
    ///
    /// # Panics
    /// It does not.
    pub fn up(&self) {
        let log = self.folder.join("log");
        run(humble(&self.bin.join("pg_ctl"))
            .arg("-D")
            .arg(self.folder.join("data"))
            .arg("-l")
            .arg(log)
            .args(["-w", "-t", "60", "start"])
            .stdout(Stdio::null()));
    }

    /// Ends it as a power cut would: every process of it killed.
    ///
    /// # Panics
    /// It was not running.
    pub fn kill(&self) {
        let text = std::fs::read_to_string(self.folder.join("data/postmaster.pid"));
        let first = text.ok().and_then(|text| text.lines().next().map(str::to_owned));
        let main: i32 = first.and_then(|line| line.parse().ok()).expect("a running server");
        let kill = |number: i32| {
            if let Some(process) = rustix::process::Pid::from_raw(number) {
                let _ = rustix::process::kill_process(process, rustix::process::Signal::KILL);
            }
        };
        let children = children(main);
        kill(main);
        children.iter().copied().for_each(kill);
        let begun = Instant::now();
        while children.iter().chain([&main]).any(|number| alive(*number)) {
            assert!(begun.elapsed() < PATIENCE, "it lives");
            std::thread::sleep(Duration::from_millis(5));
        }
        let _ = std::fs::remove_file(self.folder.join("data/postmaster.pid"));
        let _ = std::fs::remove_file(self.folder.join(format!(".s.PGSQL.{}.lock", self.port)));
    }

    /// The same where it runs.
    pub fn kill_if_up(&self) {
        if self.folder.join("data/postmaster.pid").exists() {
            self.kill();
        }
    }

    /// The folder of its socket.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Its port on this computer.
    pub fn port(&self) -> u16 {
        self.port
    }

    /// The address of a database at the socket, as the command takes it.
    pub fn url(&self, user: &str, database: &str) -> String {
        let folder = self.folder.display().to_string().replace('/', "%2F");
        format!("postgresql://{user}@{folder}:{}/{database}", self.port)
    }

    /// The same, read, with nothing around.
    ///
    /// # Panics
    /// It is none.
    pub fn address(&self, user: &str, database: &str) -> Address {
        address(&self.url(user, database))
    }

    /// An empty database of this name.
    ///
    /// # Panics
    /// There is one.
    pub fn create(&self, database: &str) {
        self.admin("postgres").batch_execute(&format!("CREATE DATABASE {database}")).expect("made");
    }

    /// A database of this name with the tables for jobs.
    ///
    /// # Panics
    /// There is one.
    pub fn prepared(&self, database: &str) {
        self.create(database);
        skimgauge_firm::Base::prepare(&self.address("postgres", database)).expect("prepared");
    }

    /// A user of a database who may what this role may.
    ///
    /// # Panics
    /// There is one of that name.
    pub fn user(&self, name: &str, role: &str) {
        let sql = format!("CREATE ROLE {name} LOGIN PASSWORD 'secret-{name}' IN ROLE {role}");
        self.admin("postgres").batch_execute(&sql).expect("a user");
    }

    /// A client of its owner.
    ///
    /// # Panics
    /// It does not answer.
    pub fn admin(&self, database: &str) -> postgres::Client {
        postgres::Config::new()
            .host_path(&self.folder)
            .port(self.port)
            .user("postgres")
            .dbname(database)
            .connect(postgres::NoTls)
            .expect("a connection")
    }
}

/// An address, read with nothing around.
///
/// # Panics
/// It is none.
pub fn address(url: &str) -> Address {
    let around = Around {
        variable: &|_| None,
        file: &|_| None,
        open_to_others: &|_| false,
        home: None,
        settings: None,
        account: None,
    };
    Address::find_in(Some(url), &around).expect("an address")
}

/// Gives a folder and its files to the account that the server runs as, for its eyes alone.
///
/// # Panics
/// It may not.
pub fn give(folder: &Path) {
    use std::os::unix::fs::PermissionsExt;
    let files =
        std::fs::read_dir(folder).expect("a folder").flatten().map(|entry| (entry.path(), 0o600));
    for (path, mode) in files.chain([(folder.to_owned(), 0o700)]) {
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(mode)).expect("its mode");
        if rustix::process::getuid().is_root() {
            std::os::unix::fs::chown(&path, Some(NOBODY), Some(NOBODY)).expect("its owner");
        }
    }
}

fn append(path: &Path, lines: &[String]) {
    let mut file = std::fs::OpenOptions::new().append(true).open(path).expect("its settings");
    writeln!(file, "{}", lines.join("\n")).expect("its settings");
}

/// The processes that another started, as Linux tells.
fn children(of: i32) -> Vec<i32> {
    let all = std::fs::read_dir("/proc").into_iter().flatten().flatten();
    all.filter_map(|entry| entry.file_name().to_string_lossy().parse::<i32>().ok())
        .filter(|number| stat(*number).is_some_and(|(_, parent)| parent == of))
        .collect()
}

/// A process's state and parent (proc(5)).
fn stat(number: i32) -> Option<(char, i32)> {
    let text = std::fs::read_to_string(format!("/proc/{number}/stat")).ok()?;
    let (_, rest) = text.rsplit_once(") ")?;
    let mut words = rest.split(' ');
    Some((words.next()?.chars().next()?, words.next()?.parse().ok()?))
}

fn alive(number: i32) -> bool {
    stat(number).is_some_and(|(state, _)| state != 'Z')
}

impl Drop for Server {
    fn drop(&mut self) {
        if let Some(mut watch) = self.watch.take() {
            drop(watch.stdin.take());
            let _ = watch.wait();
        }
    }
}
