/* What a program does to files under one folder, told in the order in which it is done: loaded before the C library
 * (LD_PRELOAD), it passes each call on and writes it down. power.rs reads it.
 *
 * A line of the log: a letter, four numbers, how many bytes follow, a line end; the bytes. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

static int log_fd = -1;
static const char *root;
static size_t root_len;
static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;

__attribute__((constructor)) static void begin(void) {
    const char *path = getenv("SKIMGAUGE_POWER_LOG");
    root = getenv("SKIMGAUGE_POWER_ROOT");
    if (!path || !root) return;
    root_len = strlen(root);
    log_fd = (int)syscall(SYS_openat, AT_FDCWD, path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
}

static void put(const void *bytes, size_t count) {
    const char *at = bytes;
    while (count > 0) {
        long done = syscall(SYS_write, log_fd, at, count);
        if (done <= 0) _exit(99);
        at += done;
        count -= (size_t)done;
    }
}

static void tell(char what, unsigned long long a, unsigned long long b, const void *bytes, size_t count) {
    char head[96];
    int length = snprintf(head, sizeof head, "%c %llu %llu %zu\n", what, a, b, count);
    pthread_mutex_lock(&lock);
    put(head, (size_t)length);
    put(bytes, count);
    pthread_mutex_unlock(&lock);
}

static int ours(const char *path) { return log_fd >= 0 && path && strncmp(path, root, root_len) == 0; }

/* The file behind a descriptor: its number, 0 where it is none of ours; its path in `path`. */
static unsigned long long file(int fd, char *path, int *is_folder) {
    char link[64];
    struct stat about;
    if (log_fd < 0 || fd == log_fd) return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, PATH_MAX - 1);
    if (length <= 0) return 0;
    path[length] = 0;
    if (!ours(path) || fstat(fd, &about) != 0) return 0;
    *is_folder = S_ISDIR(about.st_mode);
    return about.st_ino;
}

#define NEXT(name) ((__typeof__(name) *)dlsym(RTLD_NEXT, #name))

static int opened(int fd) {
    char path[PATH_MAX];
    int is_folder = 0;
    unsigned long long ino = fd >= 0 ? file(fd, path, &is_folder) : 0;
    struct stat about;
    if (ino && !is_folder && fstat(fd, &about) == 0)
        tell('O', ino, (unsigned long long)about.st_size, path, strlen(path));
    return fd;
}

#define MODE(flags, last) \
    mode_t mode = 0; \
    if ((flags) & (O_CREAT | O_TMPFILE)) { va_list more; va_start(more, last); mode = va_arg(more, mode_t); va_end(more); }

int open(const char *path, int flags, ...) { MODE(flags, flags) return opened(NEXT(open)(path, flags, mode)); }
int open64(const char *path, int flags, ...) { MODE(flags, flags) return opened(NEXT(open64)(path, flags, mode)); }
int openat(int at, const char *path, int flags, ...) { MODE(flags, flags) return opened(NEXT(openat)(at, path, flags, mode)); }
int openat64(int at, const char *path, int flags, ...) { MODE(flags, flags) return opened(NEXT(openat64)(at, path, flags, mode)); }

static void wrote(int fd, const void *bytes, ssize_t count, long long offset) {
    char path[PATH_MAX];
    int is_folder = 0;
    if (count <= 0) return;
    unsigned long long ino = file(fd, path, &is_folder);
    if (!ino) return;
    if (offset < 0) offset = lseek(fd, 0, SEEK_CUR) - count;
    tell('W', ino, (unsigned long long)offset, bytes, (size_t)count);
}

ssize_t write(int fd, const void *bytes, size_t count) {
    /* What the program says it has kept. */
    if (fd == 1 && log_fd >= 0) tell('Y', 0, 0, bytes, count);
    ssize_t done = NEXT(write)(fd, bytes, count);
    if (fd != 1) wrote(fd, bytes, done, -1);
    return done;
}
ssize_t pwrite(int fd, const void *bytes, size_t count, off_t offset) {
    ssize_t done = NEXT(pwrite)(fd, bytes, count, offset);
    wrote(fd, bytes, done, offset);
    return done;
}
ssize_t pwrite64(int fd, const void *bytes, size_t count, off64_t offset) {
    ssize_t done = NEXT(pwrite64)(fd, bytes, count, offset);
    wrote(fd, bytes, done, offset);
    return done;
}

static void cut(int fd, int done, long long size) {
    char path[PATH_MAX];
    int is_folder = 0;
    unsigned long long ino = done == 0 ? file(fd, path, &is_folder) : 0;
    if (ino) tell('T', ino, (unsigned long long)size, "", 0);
}
int ftruncate(int fd, off_t size) { int done = NEXT(ftruncate)(fd, size); cut(fd, done, size); return done; }
int ftruncate64(int fd, off64_t size) { int done = NEXT(ftruncate64)(fd, size); cut(fd, done, size); return done; }

static void synced(int fd, int done) {
    char path[PATH_MAX];
    int is_folder = 0;
    unsigned long long ino = done == 0 ? file(fd, path, &is_folder) : 0;
    if (ino) tell(is_folder ? 'D' : 'S', ino, 0, path, strlen(path));
}
/* What is under test is what is asked of the disk: the disk itself need not be waited for. */
int fsync(int fd) { synced(fd, 0); return 0; }
int fdatasync(int fd) { synced(fd, 0); return 0; }

int unlink(const char *path) {
    int done = NEXT(unlink)(path);
    if (done == 0 && ours(path)) tell('U', 0, 0, path, strlen(path));
    return done;
}
int mkdir(const char *path, mode_t mode) {
    int done = NEXT(mkdir)(path, mode);
    if (done == 0 && ours(path)) tell('M', 0, 0, path, strlen(path));
    return done;
}
int rename(const char *from, const char *to) {
    int done = NEXT(rename)(from, to);
    if (done == 0 && (ours(from) || ours(to))) {
        char both[2 * PATH_MAX];
        int length = snprintf(both, sizeof both, "%s\n%s", from, to);
        tell('R', 0, 0, both, (size_t)length);
    }
    return done;
}
