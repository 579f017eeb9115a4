/* A disk that fails, for tests: LD_PRELOAD this, and name in the environment
   FAILING_SWITCH  a file; while it is there, calls on files below FAILING_BELOW fail,
   FAILING_CALL    "sync", "write" or "open", every FAILING_EACH-th call of it,
   FAILING_ERRNO   with this error number. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

static atomic_int calls;

static int below(const char *path) {
    const char *folder = getenv("FAILING_BELOW");
    return folder && strncmp(path, folder, strlen(folder)) == 0;
}

static int fails(const char *call, const char *path) {
    const char *wanted = getenv("FAILING_CALL"), *off = getenv("FAILING_SWITCH");
    if (!wanted || !off || strcmp(wanted, call) || !below(path) || access(off, F_OK)) return 0;
    if (++calls % atoi(getenv("FAILING_EACH"))) return 0;
    errno = atoi(getenv("FAILING_ERRNO"));
    return 1;
}

static int fails_on(const char *call, int file) {
    char link[64], path[4096];
    snprintf(link, sizeof link, "/proc/self/fd/%d", file);
    ssize_t size = readlink(link, path, sizeof path - 1);
    if (size < 0) return 0;
    path[size] = 0;
    return fails(call, path);
}

#define NEXT(name) dlsym(RTLD_NEXT, name)

int fsync(int file) { return fails_on("sync", file) ? -1 : ((int (*)(int))NEXT("fsync"))(file); }
int fdatasync(int file) { return fails_on("sync", file) ? -1 : ((int (*)(int))NEXT("fdatasync"))(file); }

ssize_t write(int file, const void *bytes, size_t size) {
    return fails_on("write", file) ? -1 : ((ssize_t (*)(int, const void *, size_t))NEXT("write"))(file, bytes, size);
}

ssize_t pwrite(int file, const void *bytes, size_t size, off_t at) {
    if (fails_on("write", file)) return -1;
    return ((ssize_t (*)(int, const void *, size_t, off_t))NEXT("pwrite"))(file, bytes, size, at);
}

ssize_t pwrite64(int file, const void *bytes, size_t size, off64_t at) {
    if (fails_on("write", file)) return -1;
    return ((ssize_t (*)(int, const void *, size_t, off64_t))NEXT("pwrite64"))(file, bytes, size, at);
}

int open64(const char *path, int flags, ...) {
    va_list rest;
    va_start(rest, flags);
    int mode = va_arg(rest, int);
    va_end(rest);
    return fails("open", path) ? -1 : ((int (*)(const char *, int, ...))NEXT("open64"))(path, flags, mode);
}

int open(const char *path, int flags, ...) {
    va_list rest;
    va_start(rest, flags);
    int mode = va_arg(rest, int);
    va_end(rest);
    return fails("open", path) ? -1 : ((int (*)(const char *, int, ...))NEXT("open"))(path, flags, mode);
}
