//! Every operation of the writing layer made to fail, one after the other, in every way a disk fails. Afterwards
//! nothing half-written stands at the place, the message says what to do, and a second run completes.

use super::disk::{Disk, Readers, Real};
use super::*;
use crate::scratch::{Scratch, names};
use std::io;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// How the disk fails.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Fault {
    /// One operation fails, the next ones succeed.
    Once(ErrorKind),
    /// From here on nothing can be made or written; half of what was being written fits.
    Full(ErrorKind),
    /// From here on nothing can be changed at all.
    Locked(ErrorKind),
    /// The process is killed: from here on nothing happens; half of what was being written stands.
    Killed,
    /// The folder and all that is in it vanishes.
    Vanished,
}

const FAULTS: [Fault; 10] = [
    Fault::Once(ErrorKind::PermissionDenied),
    Fault::Once(ErrorKind::Other),
    Fault::Full(ErrorKind::StorageFull),
    Fault::Full(ErrorKind::QuotaExceeded),
    Fault::Full(ErrorKind::FileTooLarge),
    Fault::Locked(ErrorKind::ReadOnlyFilesystem),
    Fault::Locked(ErrorKind::PermissionDenied),
    Fault::Locked(ErrorKind::StaleNetworkFileHandle),
    Fault::Killed,
    Fault::Vanished,
];

/// A file system that fails at one operation, counted from zero.
struct Faulty {
    fault: Fault,
    at: usize,
    out: PathBuf,
    count: AtomicUsize,
    struck: AtomicBool,
    log: Mutex<Vec<(&'static str, PathBuf)>>,
}

impl Faulty {
    fn new(fault: Fault, at: usize, out: &Path) -> Faulty {
        Faulty {
            fault,
            at,
            out: out.to_path_buf(),
            count: AtomicUsize::new(0),
            struck: AtomicBool::new(false),
            log: Mutex::default(),
        }
    }

    /// Counts an operation; fails when its turn has come.
    fn meet(&self, doing: &'static str, path: &Path) -> io::Result<()> {
        let n = self.count.fetch_add(1, Ordering::SeqCst);
        self.log.lock().unwrap().push((doing, path.to_path_buf()));
        let strikes = match self.fault {
            Fault::Once(_) | Fault::Vanished => n == self.at,
            Fault::Full(_) => n >= self.at && ["create folder", "create", "write"].contains(&doing),
            Fault::Locked(_) | Fault::Killed => n >= self.at,
        };
        if !strikes {
            return Ok(());
        }
        self.struck.store(true, Ordering::SeqCst);
        match self.fault {
            Fault::Once(kind) | Fault::Full(kind) | Fault::Locked(kind) => Err(kind.into()),
            Fault::Killed => Err(io::Error::other("killed")),
            Fault::Vanished => {
                let _ = fs::remove_dir_all(&self.out);
                Ok(())
            }
        }
    }
}

impl Disk for Faulty {
    fn create_folder(&self, path: &Path, readers: Readers) -> io::Result<()> {
        self.meet("create folder", path)?;
        Real.create_folder(path, readers)
    }

    fn create_file(&self, path: &Path, readers: Readers) -> io::Result<File> {
        self.meet("create", path)?;
        Real.create_file(path, readers)
    }

    fn open_lock(&self, path: &Path) -> io::Result<File> {
        self.meet("lock", path)?;
        Real.open_lock(path)
    }

    fn write(&self, file: &mut File, bytes: &[u8]) -> io::Result<()> {
        let met = self.meet("write", Path::new(""));
        let fits = if met.is_ok() { bytes.len() } else { bytes.len() / 2 };
        Real.write(file, &bytes[..fits])?;
        met
    }

    fn sync_file(&self, file: &File) -> io::Result<()> {
        // What is synced is of no matter here, only that it is asked for; and the disk's time is spared.
        self.meet("sync", Path::new("")).map(|()| {
            let _ = file;
        })
    }

    fn sync_folder(&self, path: &Path) -> io::Result<()> {
        // As a real one, this fails where the folder is gone.
        self.meet("sync folder", path)?;
        fs::metadata(path).map(drop)
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.meet("rename", from)?;
        Real.rename(from, to)
    }

    fn link(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.meet("link", from)?;
        Real.link(from, to)
    }

    fn remove_file(&self, path: &Path) -> io::Result<()> {
        self.meet("remove", path)?;
        Real.remove_file(path)
    }

    fn remove_folder(&self, path: &Path) -> io::Result<()> {
        self.meet("remove", path)?;
        Real.remove_folder(path)
    }
}

/// What stands in a folder: paths and bytes; hidden files too.
fn all(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).into_iter().flatten() {
        let path = entry.unwrap().path();
        match path.is_dir() {
            true => found.extend(all(&path)),
            false => found.push((path.clone(), fs::read(&path).unwrap())),
        }
    }
    found.sort();
    found
}

fn packet(text: &str, draft: bool) -> Packet {
    let mut packet = Packet::new(crate::name::FileName::new("HH-1-2024").expect("a name"));
    packet.add("bag-info.txt", text);
    packet.add("data/letters/results.pdf", text.repeat(3));
    packet.add("data/worksheet.pdf", text.repeat(2));
    if draft {
        packet.add(DRAFT_MARK, "draft");
    }
    packet
}

/// One thing that is written: what stands before, what is to be done, and how many operations that takes at least.
struct Job<'a> {
    name: &'a str,
    before: &'a dyn Fn(&Path),
    work: &'a dyn Fn(&dyn Disk, &Path) -> Result<(), Trouble>,
    operations: usize,
}

/// Lets a job fail at every operation in every way, and sees what stands afterwards.
fn torment(job: &Job<'_>) {
    let scratch = Scratch::new(&format!("faults-{}", job.name));
    let out = scratch.join("out");
    let fresh = || {
        let _ = fs::remove_dir_all(&out);
        (job.before)(&out);
    };
    let shown = |found: &[(PathBuf, Vec<u8>)]| -> Vec<(PathBuf, Vec<u8>)> {
        let hidden = |path: &Path| path.strip_prefix(&out).unwrap().to_string_lossy().starts_with('.');
        found.iter().filter(|(path, _)| !hidden(path)).cloned().collect()
    };
    let sound = Faulty::new(Fault::Killed, usize::MAX, &out);
    fresh();
    let old = all(&out);
    let (littered, old) = (shown(&old) != old, shown(&old));
    (job.work)(&sound, &out).unwrap();
    let new = all(&out);
    assert!(old != new && !new.is_empty());
    let slip = |path: &Path| path.to_string_lossy().ends_with(".seal.pdf");
    let unslipped: Vec<_> = new.iter().filter(|(path, _)| !slip(path)).cloned().collect();
    for fault in FAULTS {
        let mut at = 0;
        loop {
            let point = format!("{} {fault:?} at {at}", job.name);
            fresh();
            let disk = Faulty::new(fault, at, &out);
            let result = (job.work)(&disk, &out);
            if !disk.struck.load(Ordering::SeqCst) {
                result.unwrap_or_else(|trouble| panic!("{point}: {trouble}"));
                break;
            }
            // Nothing half-written: what stands is the old or the new. Where nothing could be done any more between two
            // names, the old draft is beside its place, whole, and goes back.
            let stands = all(&out);
            let whole = shown(&stands);
            let ended = matches!(fault, Fault::Killed | Fault::Locked(_));
            let moved = ended && whole.is_empty() && !old.is_empty();
            let gone = fault == Fault::Vanished && whole.is_empty();
            // A slip that is missing can be made again from its packet.
            let all_but_slip = result.is_err() && whole == unslipped;
            assert!(whole == old || whole == new || moved || gone || all_but_slip, "{point}: {whole:?}");
            match &result {
                Ok(()) => assert!(whole == new || fault == Fault::Vanished, "{point}"),
                Err(trouble) => told(trouble, fault, &point),
            }
            let failed = disk.log.lock().unwrap().get(at).map(|(doing, _)| *doing);
            let cleared = match fault {
                Fault::Full(_) => true,
                Fault::Once(_) => failed != Some("remove"),
                _ => false,
            };
            assert!(!cleared || littered || stands == whole, "{point}: something is left over");
            // And a second run completes, whatever the first has left.
            match (job.work)(&sound, &out) {
                Err(Trouble::Stands(_)) if whole == new => {}
                done => done.unwrap_or_else(|trouble| panic!("{point}, then: {trouble}")),
            }
            assert!(all(&out) == new, "{point}: the second run makes something else, or leaves something");
            at += 1;
        }
        assert!(at >= job.operations || matches!(fault, Fault::Full(_)), "{}: {at} operations", job.name);
    }
    let _ = fs::remove_dir_all(&out);
}

/// The words for people fit the trouble.
fn told(trouble: &Trouble, fault: Fault, point: &str) {
    let (what, help) = (trouble.to_string(), trouble.help());
    // Only what cannot be removed is called by the name it has meanwhile.
    let removing = matches!(trouble, Trouble::File { doing: "remove", .. });
    assert!(!help.is_empty() && (removing || !what.contains(".part")), "{point}: {what}");
    let wanted = match fault {
        Fault::Full(ErrorKind::StorageFull) => ("the disk is full", "make room"),
        Fault::Full(ErrorKind::QuotaExceeded) => ("share of the disk is used up", "ask for more room"),
        Fault::Full(_) => ("larger than a file may be", "raise the limit"),
        Fault::Locked(ErrorKind::ReadOnlyFilesystem) => ("can only be read", "name a folder on a disk"),
        Fault::Locked(ErrorKind::PermissionDenied) | Fault::Once(ErrorKind::PermissionDenied) => {
            ("may not be written by you", "ask whoever owns it")
        }
        Fault::Locked(_) => ("HH-1-2024", "see that the shared drive is connected"),
        Fault::Vanished => ("moved, deleted or disconnected", "see that the folder is there again"),
        Fault::Once(_) | Fault::Killed => ("", ""),
    };
    let place = what.contains("HH-1-2024") || what.contains("list.csv") || what.contains("gablework-faults");
    assert!(place, "{point}: {what}");
    let of_place = wanted.0 == "HH-1-2024";
    assert!((of_place || what.contains(wanted.0)) && help.contains(wanted.1), "{point}: {what}; {help}");
}

#[test]
fn a_packet_stands_whole_or_not_at_all_whatever_fails() {
    let put =
        |disk: &dyn Disk, out: &Path| put_on(disk, out, &packet("text", false), Readers::Owner).map(drop);
    torment(&Job { name: "packet", before: &|_| {}, work: &put, operations: 20 });
    // An earlier run was killed and has left a part, a draft moved away, and its lock.
    let littered = |out: &Path| {
        fs::create_dir_all(out.join(".HH-1-2024.part/data")).unwrap();
        fs::write(out.join(".HH-1-2024.part/data/worksheet.pdf"), "half").unwrap();
        fs::write(out.join(".HH-1-2024.lock"), "").unwrap();
    };
    torment(&Job { name: "littered", before: &littered, work: &put, operations: 20 });
}

/// A packet with its slip; what only lacks its slip gets it from the next run, as the command does.
#[test]
fn a_packet_and_its_slip_stand_in_the_end_whatever_fails() {
    let put = |disk: &dyn Disk, out: &Path| {
        let mut packet = packet("text", false);
        let (name, bytes) = ("HH-1-2024.seal.pdf", b"the slip".to_vec());
        packet.slip = Some((name.to_string(), bytes.clone()));
        tidy(out)?;
        match put_on(disk, out, &packet, Readers::Owner) {
            Err(Trouble::Stands(_)) if !out.join(name).exists() => {
                put_file_on(disk, &out.join(name), &bytes, false, Readers::Owner)
            }
            done => done.map(drop),
        }
    };
    torment(&Job { name: "slip", before: &|_| {}, work: &put, operations: 25 });
}

#[test]
fn a_draft_is_replaced_whole_or_not_at_all_whatever_fails() {
    let put = |disk: &dyn Disk, out: &Path| put_on(disk, out, &packet("new", true), Readers::Group).map(drop);
    let before = |out: &Path| drop(super::put(out, &packet("old", true), Readers::Group).unwrap());
    torment(&Job { name: "draft", before: &before, work: &put, operations: 20 });
}

#[test]
fn a_file_stands_whole_or_not_at_all_whatever_fails() {
    for replace in [false, true] {
        let put = |disk: &dyn Disk, out: &Path| {
            put_file_on(disk, &out.join("list.csv"), b"new rows", replace, Readers::Owner)
        };
        let before = |out: &Path| {
            fs::create_dir_all(out).unwrap();
            if replace {
                fs::write(out.join("list.csv"), "old rows").unwrap();
            }
        };
        let name = if replace { "replaced" } else { "file" };
        torment(&Job { name, before: &before, work: &put, operations: 6 });
    }
}

/// A case that is changed in place: at any moment the old text stands under one name or the other, whole.
#[test]
fn a_revised_file_is_never_lost_whatever_fails() {
    let scratch = Scratch::new("revised");
    let out = scratch.join("out");
    let place = out.join("HH-1.case.yaml");
    let day = jiff::civil::date(2027, 1, 12);
    let fresh = || {
        let _ = fs::remove_dir_all(&out);
        fs::create_dir_all(&out).unwrap();
        fs::write(&place, "old").unwrap();
    };
    for fault in FAULTS.into_iter().filter(|fault| *fault != Fault::Vanished) {
        let mut at = 0;
        loop {
            let point = format!("{fault:?} at {at}");
            fresh();
            let disk = Faulty::new(fault, at, &out);
            let result = revise::revise_on(&disk, &place, b"old", b"new", day);
            let former = out.join("former/HH-1.case.2027-01-12.yaml");
            let (stands, kept) = (fs::read_to_string(&place).unwrap(), fs::read_to_string(&former).ok());
            assert!(
                stands == "old" || stands == "new" && kept.as_deref() == Some("old"),
                "{point}: {stands}"
            );
            if !disk.struck.load(Ordering::SeqCst) {
                assert_eq!(result.unwrap(), former, "{point}");
                break;
            }
            // The next run takes what stands, and keeps no former file twice.
            let again = revise::revise_on(&Real, &place, stands.as_bytes(), b"newer", day).unwrap();
            assert_eq!(fs::read_to_string(&place).unwrap(), "newer", "{point}");
            assert_eq!(fs::read_to_string(again).unwrap(), stands, "{point}");
            assert_eq!(fs::read_to_string(former).unwrap(), "old", "{point}");
            at += 1;
        }
        assert!(at >= 6 || matches!(fault, Fault::Full(_)), "{at} operations");
    }
}

/// What somebody else has saved since is not overwritten; a link stays a link; rights stay as they are.
#[cfg(unix)]
#[test]
fn a_revised_file_is_the_one_that_was_read() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let scratch = Scratch::new("revised-links");
    let (folder, day) = (scratch.join("firm"), jiff::civil::date(2027, 1, 12));
    fs::create_dir_all(&folder).unwrap();
    let place = folder.join("HH-1.case.yaml");
    fs::write(&place, "saved since").unwrap();
    let changed = revise::revise(&place, b"old", b"new", day).unwrap_err();
    assert!(matches!(changed, Trouble::Changed(_)), "{changed}");
    assert_eq!(
        (names(&folder), fs::read_to_string(&place).unwrap()),
        (vec!["HH-1.case.yaml".to_string()], "saved since".to_string())
    );

    fs::set_permissions(&place, fs::Permissions::from_mode(0o664)).unwrap();
    let link = scratch.join("link.case.yaml");
    symlink(&place, &link).unwrap();
    revise::revise(&link, b"saved since", b"new", day).unwrap();
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert_eq!(fs::read_to_string(&place).unwrap(), "new");
    assert_eq!(fs::metadata(&place).unwrap().permissions().mode() & 0o777, 0o664);
    assert_eq!(names(&folder.join("former")), ["HH-1.case.2027-01-12.yaml"]);
    revise::revise(&place, b"new", b"newer", day).unwrap();
    let former = folder.join("former/HH-1.case.2027-01-12-2.yaml");
    assert_eq!(fs::read_to_string(former).unwrap(), "new");
}

/// A log grows by whole lines only, and what stands in it stays.
#[test]
fn lines_are_added_whole_or_not_at_all_whatever_fails() {
    for old in ["", "old line\n", "a line that was cut"] {
        let kept = if old.ends_with("cut") { format!("{old}\n") } else { old.to_string() };
        let new = format!("{kept}new line\nanother\n");
        let before = |out: &Path| {
            fs::create_dir_all(out).unwrap();
            if !old.is_empty() {
                fs::write(out.join("list.csv"), old).unwrap();
            }
        };
        let add = |disk: &dyn Disk, out: &Path| {
            let list = out.join("list.csv");
            // Whoever lost the folder brings it back before the next run.
            if !list.exists() {
                before(out);
            }
            // Lines that are there are not added again; the next run only clears what the first has left.
            if fs::read_to_string(&list).is_ok_and(|stands| stands == new) {
                return Growing::begin_on(disk, &list, true, Readers::Owner).map(drop);
            }
            add_to_on(disk, &list, b"new line\nanother\n", Readers::Owner)
        };
        let name = format!("log-{}", old.len());
        torment(&Job { name: &name, before: &before, work: &add, operations: 6 });
    }
}

#[test]
fn a_folder_filled_file_by_file_stands_whole_or_not_at_all_whatever_fails() {
    for replace in [false, true] {
        let fill = |disk: &dyn Disk, out: &Path| {
            let building = Building::start_on(disk, &out.join("season"), Readers::Owner)?;
            building.add("portal/one.txt", b"new letter")?;
            let mut rows = building.grow("rows.csv")?;
            rows.add("new\r\n")?;
            rows.add("rows\r\n")?;
            rows.end()?;
            building.finish(replace)
        };
        let before = |out: &Path| {
            if replace {
                fs::create_dir_all(out.join("season")).unwrap();
                fs::write(out.join("season/rows.csv"), "old rows").unwrap();
            }
        };
        let name = if replace { "season-again" } else { "season" };
        torment(&Job { name, before: &before, work: &fill, operations: 14 });
    }
}

/// All bytes and names would outlast a loss of power before the packet gets its name, and the name before the run says
/// that it stands.
#[test]
fn everything_is_synced_before_it_is_named() {
    let scratch = Scratch::new("synced");
    let out = scratch.join("out");
    let disk = Faulty::new(Fault::Killed, usize::MAX, &out);
    put_on(&disk, &out, &packet("text", false), Readers::Owner).unwrap();
    let log = disk.log.into_inner().unwrap();
    let renamed = log.iter().position(|(doing, _)| *doing == "rename").expect("a rename");
    let (before, after) = log.split_at(renamed);
    let at = |doing: &str, path: &Path| before.iter().rposition(|one| one.0 == doing && one.1 == path);
    for (n, (doing, path)) in before.iter().enumerate() {
        match *doing {
            "write" => assert_eq!(before[n + 1].0, "sync"),
            // The part itself gets another name, which is synced afterwards.
            "create" | "create folder" if path.extension().is_none_or(|ending| ending != "part") => {
                let folder = path.parent().unwrap();
                let synced = at("sync folder", folder).unwrap_or_else(|| panic!("{path:?} is never synced"));
                assert!(synced > n, "{path:?}");
            }
            _ => {}
        }
    }
    assert!(after.iter().any(|(doing, path)| *doing == "sync folder" && *path == out));
}

/// Runs that share a folder leave each other's unfinished work alone, and clear that of a run which is gone.
#[test]
fn what_is_under_way_elsewhere_is_left_alone() {
    let scratch = Scratch::new("shared");
    let out = scratch.join("out");
    fs::create_dir_all(out.join(".HH-1-2024.part/data")).unwrap();
    fs::create_dir_all(out.join(".HH-2-2024-draft.old")).unwrap();
    fs::create_dir_all(out.join(".other.part")).unwrap();
    fs::write(out.join(".HH-3-2024.part"), "a file, so none of ours").unwrap();
    let lock = Lock::take(&Real, &out, "HH-1-2024").unwrap();
    assert!(matches!(Lock::within(&Real, &out, "HH-1-2024", Duration::ZERO), Err(Trouble::Busy(_))));
    tidy(&out).unwrap();
    assert!(out.join(".HH-1-2024.part/data").is_dir(), "another run is at work on it");
    assert!(out.join("HH-2-2024-draft").is_dir(), "the draft that was moved away is back");
    drop(lock);
    tidy(&out).unwrap();
    assert_eq!(names(&out), [".HH-3-2024.part", ".other.part", "HH-2-2024-draft"]);
}

/// A new case has two names for a moment. Whoever is killed then leaves both, and no later run writes that case.
#[test]
fn what_a_killed_run_left_beside_cases_is_cleared() {
    let scratch = Scratch::new("beside-cases");
    let out = scratch.join("cases");
    fs::create_dir_all(out.join(".HH-5.case.yaml.part")).unwrap();
    for name in [
        "HH-1.case.yaml",
        ".HH-1.case.yaml.part",
        ".HH-1.case.yaml.lock",
        ".HH-2.case.2027-01-12.yaml.part",
        ".HH-3.case.begun.lock",
        ".HH-4.case.yaml.part",
        ".HH-6.case.yaml.swp",
        ".other.yaml.part",
    ] {
        fs::write(out.join(name), "").unwrap();
    }
    let lock = Lock::take(&Real, &out, "HH-4.case.yaml").unwrap();
    tidy(&out).unwrap();
    let left = [".HH-5.case.yaml.part", ".HH-6.case.yaml.swp", ".other.yaml.part", "HH-1.case.yaml"];
    let at_work: Vec<_> = [".HH-4.case.yaml.lock", ".HH-4.case.yaml.part"].into_iter().chain(left).collect();
    assert_eq!(names(&out), at_work);
    drop(lock);
    tidy(&out).unwrap();
    assert_eq!(names(&out), left);
}

/// Many at once on one draft: each finds the place whole, and the last leaves it so.
#[test]
fn many_may_write_one_draft_at_once() {
    let scratch = Scratch::new("many");
    let out = scratch.join("out");
    std::thread::scope(|scope| {
        for n in 0..6 {
            let out = &out;
            scope.spawn(move || {
                for _ in 0..3 {
                    put(out, &packet(&format!("by {n}"), true), Readers::Owner).unwrap();
                }
            });
        }
    });
    let stands = all(&out);
    assert_eq!(stands.len(), 4, "{stands:?}");
}
