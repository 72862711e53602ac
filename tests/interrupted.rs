//! Interrupted runs: killed, stopped, or out of room. Nothing stands half-written, the message says what to do, and a
//! second run completes with the bytes of a run that was never interrupted.

#![cfg(unix)]

use crate::batches::Desk;
use crate::support::chance::Chance;
use crate::support::program::{err, out, program, run_typed};
use std::io::Write;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const DATED: &str = "--dated 2026-11-12";

fn desk_with(name: &str, cases: usize) -> Desk {
    let desk = Desk::new(name);
    for n in 0..cases {
        desk.case(&format!("cases/{n}.case.yaml"), &format!("HH-{n}"));
    }
    desk
}

fn spawn(desk: &Desk, line: &str) -> Child {
    let mut command = program(&desk.0);
    command.args(line.split(' ')).stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::piped());
    command.spawn().expect("the program runs")
}

/// Asserts that what stands under its final name is whole: the same as in another folder.
fn whole(desk: &Desk, cut: &str, model: &str, told: &str) {
    let model = desk.files(model);
    for packet in desk.names(cut).iter().filter(|name| !name.starts_with('.')) {
        let stands = desk.files(&format!("{cut}/{packet}"));
        let inside = |name: &str| name.strip_prefix(&format!("{packet}/")).map(str::to_string);
        let wanted: Vec<_> =
            model.iter().filter_map(|(name, bytes)| Some((inside(name)?, bytes.clone()))).collect();
        assert!(stands == wanted, "{told}: {packet} is not whole");
    }
}

fn signal(child: &Child, name: &str) {
    let status = Command::new("kill").args([&format!("-{name}"), &child.id().to_string()]).status();
    assert!(status.expect("kill runs").success());
}

#[test]
fn a_run_that_is_killed_leaves_nothing_half_written_and_is_gone_on_with() {
    let desk = desk_with("killed", 5);
    let begun = Instant::now();
    let made = desk.run(&format!("packet cases {DATED} --out model --threads 2"));
    assert_eq!(made.status.code(), Some(0), "{}", err(&made));
    let takes = u64::try_from(begun.elapsed().as_millis()).expect("a short run");
    let mut chance = Chance(0x5695);
    let mut left_over = 0;
    for round in 0..10 {
        let mut child = spawn(&desk, &format!("packet cases {DATED} --out cut --threads 2"));
        std::thread::sleep(Duration::from_millis(chance.below(takes as usize * 3 / 4) as u64));
        if round % 2 == 0 {
            // While something is being written, if it gets that far.
            let until = Instant::now() + Duration::from_millis(takes);
            while Instant::now() < until && !desk.names("cut").iter().any(|name| name.ends_with(".part")) {
                std::thread::sleep(Duration::from_micros(200));
            }
        }
        child.kill().expect("killed");
        child.wait().expect("it ends");
        let names = desk.names("cut");
        left_over += usize::from(names.iter().any(|name| name.starts_with('.')));
        whole(&desk, "cut", "model", &format!("round {round}"));
        if names.iter().filter(|name| !name.starts_with('.')).count() == 5 {
            std::fs::remove_dir_all(desk.0.join("cut")).expect("begun anew");
        }
    }
    assert!(left_over > 0, "no kill hit a packet while it was written, so the test shows nothing");
    let last = desk.run(&format!("packet cases {DATED} --out cut"));
    assert_eq!(last.status.code(), Some(0), "{}", err(&last));
    assert_eq!(desk.names("cut"), desk.names("model"), "nothing is left over");
    assert!(desk.files("cut") == desk.files("model"), "the same bytes");
}

#[test]
fn a_run_that_is_stopped_finishes_what_is_under_way_and_is_gone_on_with() {
    let desk = desk_with("stopped", 8);
    for name in ["INT", "TERM"] {
        let line = format!("packet cases {DATED} --out {name}");
        let child = spawn(&desk, &format!("{line} --threads 1"));
        let until = Instant::now() + Duration::from_secs(20);
        while desk.names(name).is_empty() && Instant::now() < until {
            std::thread::sleep(Duration::from_millis(1));
        }
        signal(&child, name);
        let stopped = child.wait_with_output().expect("it ends");
        assert_eq!(stopped.status.code(), Some(130), "{}", err(&stopped));
        assert!(err(&stopped).contains("the same command goes on from here"), "{}", err(&stopped));
        let stands = desk.names(name);
        assert!((1..8).contains(&stands.len()), "{stands:?}");
        assert!(stands.iter().all(|one| !one.starts_with('.')), "{stands:?}");
        let rest = desk.run(&line);
        assert_eq!(rest.status.code(), Some(0), "{}", err(&rest));
        let counts = format!("8 cases: {} made, {} already up to date;", 8 - stands.len(), stands.len());
        assert!(err(&rest).contains(&counts), "{counts}: {}", err(&rest));
        assert_eq!(desk.names(name).len(), 8);
    }
    assert!(desk.files("INT") == desk.files("TERM"));
}

#[test]
fn two_runs_at_once_share_a_folder_in_peace() {
    let desk = desk_with("together", 4);
    let line = format!("packet cases {DATED} --out together --threads 2");
    let children = [spawn(&desk, &line), spawn(&desk, &line), spawn(&desk, &line)];
    for child in children {
        let ended = child.wait_with_output().expect("it ends");
        assert_eq!(ended.status.code(), Some(0), "{}", err(&ended));
    }
    assert_eq!(desk.run(&format!("packet cases {DATED} --out alone")).status.code(), Some(0));
    assert!(desk.files("together") == desk.files("alone"));
    assert_eq!(desk.names("together"), desk.names("alone"));
}

/// A limit on the size of files, as a disk without room. The system would end the program without a word.
#[test]
fn no_room_for_a_file_ends_the_run_with_words_and_leaves_nothing() {
    let desk = desk_with("limit", 3);
    let line = format!("packet cases {DATED} --out packets");
    let limited = |script: &str| {
        let mut shell = Command::new("sh");
        let script = format!("ulimit -f 8; exec \"$0\" {script}");
        shell.current_dir(&desk.0).args(["-c", &script, env!("CARGO_BIN_EXE_gablework")]);
        shell.output().expect("a shell")
    };
    let told = limited(&line);
    assert_eq!(told.status.code(), Some(4), "{}", err(&told));
    assert!(err(&told).contains("is larger than a file may be here"), "{}", err(&told));
    assert!(err(&told).contains("raise the limit"), "{}", err(&told));
    assert!(desk.names("packets").is_empty(), "{:?}", desk.names("packets"));
    for (command, words) in [
        ("figures cases/0.case.yaml --as json > figures.json", "standard output cannot be written"),
        ("register cases --on 2026-11-12 --as pdf --out register.pdf", "is larger than a file may be here"),
        ("remind cases --for 2026 --dated 2026-11-12 --out season", "is larger than a file may be here"),
        ("kit kit", "is larger than a file may be here"),
    ] {
        let told = limited(command);
        assert_eq!(told.status.code(), Some(4), "{command}: {}", err(&told));
        assert!(err(&told).contains(words), "{command}: {}", err(&told));
        assert!(err(&told).contains("raise the limit"), "{command}: {}", err(&told));
    }
    assert_eq!(desk.names("."), ["cases", "figures.json", "packets"], "nothing half-written");
    assert_eq!(desk.run(&line).status.code(), Some(0));
    assert_eq!(desk.names("packets"), ["HH-0-2026", "HH-1-2026", "HH-2-2026"]);
}

/// A limit on memory: from one that is too low to start up to one that is enough, the program ends as the README says,
/// and whatever stands under a packet's name is whole.
#[cfg(target_os = "linux")]
#[test]
fn no_memory_ends_the_run_with_a_word_and_leaves_nothing_half_written() {
    use std::os::unix::process::ExitStatusExt;
    const ABORTED: i32 = 6;
    let desk = desk_with("memory", 3);
    let mut refused = 0;
    let mut limit = 20_000;
    loop {
        let script = format!("ulimit -v {limit}; exec \"$0\" packet cases {DATED} --out packets --threads 1");
        let mut shell = Command::new("sh");
        shell.current_dir(&desk.0).args(["-c", &script, env!("CARGO_BIN_EXE_gablework")]);
        let ended = shell.output().expect("a shell");
        let told = err(&ended);
        for name in desk.names("packets").iter().filter(|name| !name.starts_with('.')) {
            let whole = desk.run(&format!("verify packets/{name} --no-log"));
            assert_eq!(whole.status.code(), Some(0), "{limit} kB, {name}: {}", err(&whole));
        }
        match (ended.status.code(), ended.status.signal()) {
            (Some(0), _) => break,
            // Too low to start: the system's own end.
            (Some(127), _) | (None, Some(11)) if refused == 0 => {}
            // The room for another thread is asked for by the program itself.
            (Some(4), _) => assert!(told.contains("help: raise the limits on memory"), "{limit} kB: {told}"),
            (None, Some(ABORTED)) => {
                refused += 1;
                assert!(told.contains("memory allocation of "), "{limit} kB: {told}");
            }
            other => panic!("{limit} kB: {other:?} {told}"),
        }
        limit += 3_000;
        assert!(limit < 2_000_000, "it never has enough");
    }
    assert!(refused > 0, "no limit let it start and then run out");
    let rest = desk.run(&format!("packet cases {DATED} --out packets"));
    assert_eq!(rest.status.code(), Some(0), "{}", err(&rest));
    assert_eq!(desk.names("packets"), ["HH-0-2026", "HH-1-2026", "HH-2-2026"]);
}

/// A disk that is really full: a small one, mounted where only this test sees it.
#[test]
fn a_full_disk_ends_the_run_and_room_lets_it_go_on() {
    let desk = desk_with("full", 6);
    std::fs::create_dir(desk.0.join("disk")).expect("a folder");
    let script = format!(
        "mount -t tmpfs -o size=1200k none disk || exit 99
         \"$0\" packet cases {DATED} --out disk/packets --threads 2; echo code $?; ls -A disk/packets
         mount -o remount,size=60m disk
         \"$0\" packet cases {DATED} --out disk/packets; echo code $?; ls -A disk/packets; cp -r disk/packets after"
    );
    let ran = Command::new("unshare")
        .args(["--map-root-user", "--mount", "sh", "-c", &script, env!("CARGO_BIN_EXE_gablework")])
        .current_dir(&desk.0)
        .output();
    let ran = match ran {
        Ok(ran) if ran.status.success() => ran,
        other => {
            eprintln!("NOT RUN: nobody may mount a small disk here: {other:?}");
            return;
        }
    };
    let told = out(&ran);
    let parts: Vec<&str> = told.split("code ").collect();
    assert_eq!(parts.len(), 3, "{told}");
    let after = |part: &str| {
        part.lines().skip(1).filter(|line| line.starts_with("HH-") && !line.contains(',')).count()
    };
    assert!(parts[1].starts_with("4\n"), "{told}{}", err(&ran));
    assert!(after(parts[1]) < 6 && !parts[1].contains(".part"), "{told}");
    for words in [
        "error: the disk is full: there is no room for disk/packets/HH-",
        "help: make room",
        "goes on from here",
    ] {
        assert!(err(&ran).contains(words), "{words}: {}", err(&ran));
    }
    assert!(parts[2].starts_with("0\n"), "{told}{}", err(&ran));
    assert_eq!(desk.run(&format!("packet cases {DATED} --out model")).status.code(), Some(0));
    assert!(desk.files("after") == desk.files("model"), "the same bytes");
}

/// Root may write everywhere, so the program runs as nobody in particular where the tests run as root.
#[test]
fn a_folder_that_may_only_be_read_is_told_at_once() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    let desk = desk_with("read-only", 30);
    let place = desk.0.join("shared");
    std::fs::create_dir(&place).expect("a folder");
    let rights = |path: &Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).expect("rights")
    };
    rights(&place, 0o555);
    let mut command = if place.metadata().expect("it stands").uid() == 0 {
        // A copy within reach of everybody.
        let copy = desk.0.join("program");
        std::fs::copy(env!("CARGO_BIN_EXE_gablework"), &copy).expect("a copy");
        rights(&copy, 0o755);
        rights(&desk.0, 0o755);
        let mut command = Command::new(copy);
        command.current_dir(&desk.0).uid(65534).gid(65534);
        command
    } else {
        program(&desk.0)
    };
    for out in ["shared", "shared/below"] {
        let refused =
            command.args(format!("packet cases {DATED} --threads 2 --out {out}").split(' ')).output();
        let refused = refused.expect("the program runs");
        let told = err(&refused);
        assert_eq!(refused.status.code(), Some(4), "{told}");
        assert!(told.contains("may not be written by you") && told.contains("ask whoever owns it"), "{told}");
        assert!(told.matches("error:").count() <= 2 * 8 + 1, "it does not say so for every case: {told}");
        assert!(desk.names("shared").is_empty());
        let program = command.get_program().to_owned();
        let mut next = Command::new(program);
        next.current_dir(&desk.0);
        if desk.0.join("program").exists() {
            next.uid(65534).gid(65534);
        }
        command = next;
    }
    rights(&place, 0o755);
}

#[test]
fn a_place_that_cannot_be_is_told_with_what_to_do() {
    let desk = desk_with("nowhere", 1);
    desk.write("file", "not a folder");
    let long = "long-".repeat(60);
    for (out, wanted, help) in [
        ("file/below", "a file stands in its way", "name another folder"),
        ("file", "a file stands in its way", "name another folder"),
        (long.as_str(), "too long a name", "a shorter path"),
    ] {
        let refused = desk.run(&format!("packet cases {DATED} --out {out}"));
        let told = err(&refused);
        assert_eq!(refused.status.code(), Some(4), "{told}");
        assert!(told.contains(wanted) && told.contains(help), "{told}");
    }
    assert_eq!(desk.names("."), ["cases", "file"]);
}

/// What cannot be printed is reported, and the packets are made all the same.
#[cfg(target_os = "linux")]
#[test]
fn a_summary_that_cannot_be_printed_is_an_error_and_the_packets_are_made() {
    let desk = desk_with("unprinted", 2);
    let full = || std::fs::File::options().write(true).open("/dev/full").expect("/dev/full");
    let ended = program(&desk.0)
        .args(format!("packet cases {DATED}").split(' '))
        .stdout(full())
        .stderr(full())
        .status()
        .expect("the program runs");
    assert_eq!(ended.code(), Some(4));
    assert_eq!(desk.names("packets"), ["HH-0-2026", "HH-1-2026"]);
}

/// `begin`, killed while it is answered: what was kept is whole, at most the last answer is missing, and the case comes
/// out as if nothing had happened.
#[test]
fn answers_outlast_a_killed_begin() {
    let typed = format!("{}{}", crate::begin::HALF, crate::begin::REST);
    let lines: Vec<&str> = typed.split_inclusive('\n').collect();
    let model = Desk::new("begin-model");
    let arguments = ["begin", "--dated", "2026-11-12"];
    assert!(run_typed(&model.0, &arguments, &typed).status.success());
    let desk = Desk::new("begin-killed");
    let mut chance = Chance(25);
    let mut answered = 0;
    while answered + 3 < lines.len() {
        let mut child = spawn(&desk, &arguments.join(" "));
        let mut input = child.stdin.take().expect("its input");
        let mut text = if answered > 0 { "1\n".to_string() } else { String::new() };
        let until = (answered + 1 + chance.below(12)).min(lines.len() - 3);
        text.extend(lines[answered..until].iter().copied());
        input.write_all(text.as_bytes()).expect("typed");
        std::thread::sleep(Duration::from_millis(chance.below(150) as u64));
        child.kill().expect("killed");
        child.wait().expect("it ends");
        let kept: Vec<String> = desk.names(".").into_iter().filter(|name| name.ends_with(".begun")).collect();
        assert!(kept.len() <= 1, "{kept:?}");
        let now = kept.first().map_or(0, |name| {
            let bytes = std::fs::read(desk.0.join(name)).expect("kept");
            let kept: serde_json::Value = serde_json::from_slice(&bytes).expect("whole");
            kept["answers"]
                .as_array()
                .map_or_else(|| kept["answers"].as_object().map_or(0, |map| map.len()), Vec::len)
        });
        assert!((answered..=until).contains(&now), "{answered} answers were kept, then {now} of {until}");
        answered = now;
    }
    // Killed once more, right after another case had got its name.
    desk.write(".HH-0001.case.yaml.part", "whole");
    let text = format!("1\n{}", lines[answered..].concat());
    let ended = run_typed(&desk.0, &arguments, &text);
    assert_eq!(ended.status.code(), Some(0), "{}", err(&ended));
    assert_eq!(desk.names("."), model.names("."), "nothing is left over");
    assert!(desk.files(".") == model.files("."), "the same case");
}

/// `remind`, killed: no season stands, or a whole one, and the next run makes it with the same bytes.
#[test]
fn a_season_that_is_killed_is_made_by_the_next_run() {
    let desk = Desk::new("season");
    for entry in
        std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("demo")).expect("the demo cases")
    {
        let path = entry.expect("an entry").path();
        if path.is_file() {
            std::fs::create_dir_all(desk.0.join("cases")).expect("a folder");
            let name = path.file_name().expect("a name");
            std::fs::copy(&path, desk.0.join("cases").join(name)).expect("a copy");
        }
    }
    let line = |out: &str| format!("remind cases --for 2026 {DATED} --out {out}");
    let begun = Instant::now();
    let made = desk.run(&line("model"));
    assert!(!desk.files("model").is_empty(), "{}", err(&made));
    let takes = u64::try_from(begun.elapsed().as_millis()).expect("a short run");
    let mut chance = Chance(0x25D);
    for _ in 0..5 {
        let mut child = spawn(&desk, &line("cut"));
        std::thread::sleep(Duration::from_millis(chance.below(takes as usize) as u64));
        child.kill().expect("killed");
        child.wait().expect("it ends");
        if desk.0.join("cut").exists() {
            assert!(desk.files("cut") == desk.files("model"), "what stands is whole");
            std::fs::remove_dir_all(desk.0.join("cut")).expect("begun anew");
        }
    }
    let last = desk.run(&line("cut"));
    assert_eq!(last.status.code(), made.status.code(), "{}", err(&last));
    assert!(desk.files("cut") == desk.files("model"), "the same bytes");
    assert_eq!(desk.names("."), ["cases", "cut", "model"], "nothing is left over");
}
