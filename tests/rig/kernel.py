"""Debian's own kernel for the rig: fetched with apt (whichever release the archive has now), the rig's module built
for it, and an initramfs that holds a busybox and the modules. Kept in the build folder; without the network the
newest kernel that is kept there is used. Everything that is missing is said in one sentence: RigError."""
import gzip
import hashlib
import lzma
import os
import re
import shutil
import subprocess
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
WANTED = ["virtio_pci", "9pnet_virtio", "9p", "wire", "w1_therm", "maxim-thermocouple", "max31856", "i2c-stub",
          "i2c-dev", "lm75", "uhci-hcd", "usbserial", "ftdi_sio", "overlay"]
FOLDERS = ["net/9p", "fs", "drivers/virtio", "drivers/spi", "drivers/iio", "drivers/w1", "drivers/hwmon", "drivers/i2c",
           "drivers/usb", "drivers/base", "drivers/input", "lib"]


class RigError(Exception):
    """The rig cannot be set up; the text says why."""


def run(*words, cwd=None, limit=120, may_fail=False):
    try:
        done = subprocess.run([str(word) for word in words], cwd=cwd, capture_output=True, text=True, timeout=limit)
    except FileNotFoundError:
        raise RigError(f"{words[0]} is not installed; tools/check installs what the tests need") from None
    except subprocess.TimeoutExpired:
        raise RigError(f"{words[0]} did not end within {limit} s") from None
    if done.returncode != 0 and not may_fail:
        raise RigError(f"{' '.join(map(str, words[:4]))} ... failed:\n{done.stdout[-1500:]}{done.stderr[-1500:]}")
    return done


def depends(package):
    text = run("apt-cache", "depends", "--no-recommends", package, may_fail=True).stdout
    return re.findall(r"^ *\|?Depends: (\S+)", text, re.M)


class Kernel:
    """One release of Debian's kernel, unpacked under `home`."""

    def __init__(self, home, release):
        self.release, self.home = release, home / release
        self.root = self.home / "root"
        self.headers = self.root / "usr/src" / f"linux-headers-{release}"

    @property
    def complete(self):
        return (self.home / "complete").exists()

    @property
    def modules(self):
        return self.root / "lib/modules" / self.release

    def unpack(self, debs):
        shutil.rmtree(self.root, ignore_errors=True)
        self.root.mkdir(parents=True)
        for deb in debs:
            if not deb.name.startswith("linux-image"):
                run("dpkg-deb", "-x", deb, self.root)
                continue
            wanted = ["*/vmlinuz-*", "*/modules.builtin*", "*/modules.order"]
            wanted += [f"*/kernel/{folder}/*" for folder in FOLDERS]
            archive = subprocess.Popen(["dpkg-deb", "--fsys-tarfile", deb], stdout=subprocess.PIPE)
            done = subprocess.run(["tar", "-x", "-C", self.root, "--wildcards", *wanted], stdin=archive.stdout)
            archive.stdout.close()
            if archive.wait() not in (0, -13) or done.returncode not in (0, 2):
                raise RigError(f"{deb.name} could not be unpacked")
        if not self.modules.exists() and (self.root / "usr/lib/modules").exists():
            (self.root / "lib").mkdir(exist_ok=True)
            (self.root / "lib/modules").symlink_to("../usr/lib/modules")
        for packed in self.modules.rglob("*.ko.xz"):
            packed.with_suffix("").write_bytes(lzma.decompress(packed.read_bytes()))
            packed.unlink()
        self._move_headers()
        run("busybox", "depmod", "-b", self.root, self.release)
        self._plain_kernel()
        (self.home / "complete").write_text("")

    def _move_headers(self):
        """Debian's headers name each other by their place under /usr/src: told where they are now."""
        for makefile in (self.root / "usr/src").glob("linux-headers-*/Makefile"):
            text = makefile.read_text()
            makefile.write_text(re.sub(r"(?<![\w/.])/usr/src/", f"{self.root}/usr/src/", text))

    def _plain_kernel(self):
        """The kernel out of its packing: an emulated processor needs seconds to unpack it by itself."""
        packed = next((self.root / "boot").glob("vmlinuz-*")).read_bytes()
        start = (packed[0x1F1] + 1) * 512 + int.from_bytes(packed[0x248:0x24C], "little")
        length = int.from_bytes(packed[0x24C:0x250], "little")
        try:
            plain = lzma.LZMADecompressor().decompress(packed[start:start + length])
            (self.home / "vmlinux").write_bytes(plain)
        except (lzma.LZMAError, EOFError):  # packed in another way: slower, but it boots as it is
            (self.home / "vmlinux").write_bytes(packed)

    def build_module(self):
        sources = sorted((HERE / "module").iterdir())
        key = hashlib.sha256(b"".join(s.name.encode() + s.read_bytes() for s in sources)).hexdigest()[:16]
        built = self.home / f"ingle_rig-{key}.ko"
        if built.exists():
            return built
        place = self.home / "module"
        shutil.rmtree(place, ignore_errors=True)
        shutil.copytree(HERE / "module", place)
        # Without type data for tracers: the program that writes it is no part of the headers.
        done = run("make", "-C", self.headers, f"M={place}", "CONFIG_DEBUG_INFO_BTF_MODULES=", "modules", may_fail=True)
        if done.returncode != 0 or "warning:" in done.stderr:
            raise RigError(f"the rig's module does not build for {self.release}:\n{done.stdout[-1500:]}{done.stderr[-3000:]}")
        run("strip", "--strip-debug", place / "ingle_rig.ko")
        shutil.copy(place / "ingle_rig.ko", built)
        return built

    def _closure(self):
        """The wanted modules and what they need, in an order in which they can be loaded."""
        needs = {}
        for line in (self.modules / "modules.dep").read_text().splitlines():
            name, _, rest = line.partition(":")
            needs[name] = rest.split()
        plain = lambda path: Path(path).name.removesuffix(".ko").replace("-", "_")
        by_name = {plain(path): path for path in needs}
        built_in = {plain(line) for line in (self.modules / "modules.builtin").read_text().split()}
        order = []

        def add(path):
            for need in needs[path]:
                if need not in order:
                    add(need)
            if path not in order:
                order.append(path)

        for wanted in WANTED:
            name = wanted.replace("-", "_")
            if name in by_name:
                add(by_name[name])
            elif name not in built_in:
                raise RigError(f"kernel {self.release} has no module {wanted}")
        return order

    def initramfs(self, module):
        """Packs busybox, /init and the modules; the rig's own module comes last but before nothing that needs it."""
        order = self._closure()
        inside = {str(self.modules / path): f"modules/{Path(path).name}" for path in order}
        inside[str(module)] = "modules/ingle_rig.ko"
        inside[shutil.which("busybox") or "/bin/busybox"] = "bin/busybox"
        inside[str(HERE / "guest_init")] = "init"
        key = hashlib.sha256()
        for source in inside:
            key.update(source.encode() + (Path(source).read_bytes() if source.endswith("init") else b""))
        packed = self.home / f"initramfs-{key.hexdigest()[:16]}.gz"
        if packed.exists():
            return packed
        place = self.home / "initramfs"
        shutil.rmtree(place, ignore_errors=True)
        for source, target in inside.items():
            (place / target).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(source, place / target)
        (place / "init").chmod(0o755)
        (place / "modules/order").write_text("".join(Path(target).name + "\n" for target in inside.values()
                                                     if target.endswith(".ko")))
        for folder in ("proc", "sys", "dev", "host"):
            (place / folder).mkdir()
        names = sorted(str(path.relative_to(place)) for path in place.rglob("*"))
        cpio = subprocess.run(["cpio", "--null", "-o", "-H", "newc", "--quiet"], cwd=place, capture_output=True,
                              input="\0".join([".", *names]).encode() + b"\0")
        if cpio.returncode != 0:
            raise RigError(f"cpio failed: {cpio.stderr.decode()}")
        packed.write_bytes(gzip.compress(cpio.stdout, 1))
        return packed


def _names():
    image = [name for name in depends("linux-image-amd64") if name.startswith("linux-image-")]
    if not image:
        return None, []
    release = image[0].removeprefix("linux-image-").removesuffix("-unsigned")
    headers = f"linux-headers-{release}"
    others = [name for name in depends(headers) if name.startswith(("linux-headers-", "linux-kbuild-"))]
    return release, [image[0], headers, *others]


def _download(names, place):
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir(parents=True)
    done = run("apt-get", "download", "-q", "-o", "Acquire::Retries=2", "-o", "Acquire::http::Timeout=30", *names,
               cwd=place, limit=300, may_fail=True)
    debs = sorted(place.glob("*.deb"))
    return debs if done.returncode == 0 and len(debs) == len(names) else None, done.stderr.strip()


def obtain(home):
    """The kernel that the archive has now, or the one that is kept; seconds spent on the network come second."""
    home.mkdir(parents=True, exist_ok=True)
    began = time.monotonic()
    release, names = _names()
    if release and Kernel(home, release).complete:
        return Kernel(home, release), 0.0
    debs, why = (_download(names, home / "debs") if release else (None, "apt knows no kernel"))
    if not debs and os.geteuid() == 0:  # the lists may be older than the archive
        run("apt-get", "update", "-qq", limit=300, may_fail=True)
        release, names = _names()
        debs, why = (_download(names, home / "debs") if release else (None, "apt knows no package linux-image-amd64"))
    if not debs:
        kept = sorted(home.glob("*/complete"), key=lambda path: path.stat().st_mtime)
        if not kept:
            raise RigError(f"the kernel cannot be fetched from Debian's archive, and none is kept in {home}: {why}")
        return Kernel(home, kept[-1].parent.name), time.monotonic() - began
    fetched = time.monotonic() - began
    kernel = Kernel(home, release)
    kernel.unpack(debs)
    shutil.rmtree(home / "debs", ignore_errors=True)  # 85 MB; what is unpacked is kept
    return kernel, fetched
