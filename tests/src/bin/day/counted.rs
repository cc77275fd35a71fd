//! Bytes that are held, counted as they are asked for and given back.
#![expect(unsafe_code, reason = "whoever counts allocations stands between program and allocator")]

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicI64, Ordering};

struct Counted;

static HELD: AtomicI64 = AtomicI64::new(0);

// SAFETY: every call goes to the system's allocator as it came.
unsafe impl GlobalAlloc for Counted {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        HELD.fetch_add(layout.size() as i64, Ordering::Relaxed);
        // SAFETY: as the caller promised.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        HELD.fetch_sub(layout.size() as i64, Ordering::Relaxed);
        // SAFETY: as the caller promised.
        unsafe { System.dealloc(at, layout) }
    }

    unsafe fn realloc(&self, at: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        HELD.fetch_add(size as i64 - layout.size() as i64, Ordering::Relaxed);
        // SAFETY: as the caller promised.
        unsafe { System.realloc(at, layout, size) }
    }
}

#[global_allocator]
static ALLOCATOR: Counted = Counted;

/// Bytes that this program holds now, SQLite's own aside.
pub(crate) fn held() -> i64 {
    HELD.load(Ordering::Relaxed)
}

/// Resident memory, KiB; `None` where the system does not say.
pub(crate) fn resident_kib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// Open files, sockets and the like; `None` where the system does not say.
pub(crate) fn open_files() -> Option<usize> {
    Some(std::fs::read_dir("/proc/self/fd").ok()?.count())
}
