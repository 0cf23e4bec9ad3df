namespace LaserWatch.Health;

public sealed class StartMemoryTests
{
    private const string Smaps = """
        00400000-00500000 r--p 00000000 fe:01 1 /opt/laserwatch/laserwatch
        Rss:                 900 kB
        Anonymous:             0 kB
        00500000-00900000 r-xp 00100000 fe:01 1 /opt/laserwatch/laserwatch
        Rss:                3000 kB
        Anonymous:             0 kB
        00900000-00a00000 r--p 00500000 fe:01 1 /opt/laserwatch/laserwatch
        Anonymous:            12 kB
        00a00000-00b00000 rw-p 00600000 fe:01 1 /opt/laserwatch/laserwatch
        Anonymous:             0 kB
        00a80000-00a90000 r--s 00700000 fe:01 1 /opt/laserwatch/laserwatch
        Anonymous:             0 kB
        00a90000-00aa0000 r--s 00000000 fe:01 5 /var/lib/laserwatch/laserwatch.db-shm
        Anonymous:             0 kB
        00b00000-00c00000 rw-p 00000000 00:00 0 [heap]
        Anonymous:           700 kB
        7f0000000000-7f0000100000 r--p 00000000 fe:01 2 /usr/lib/libc.so.6
        Anonymous:             0 kB
        7f0000100000-7f0000200000 r-xp 00100000 fe:01 2 /usr/lib/libc.so.6
        Anonymous:             0 kB
        7f0000200000-7f0000300000 r-xp 00000000 00:01 3 /memfd:doublemapper (deleted)
        Anonymous:             0 kB
        7f0000300000-7f0000400000 r-xp 00000000 fe:01 4 /usr/lib/lib patched.so
        Anonymous:             4 kB
        7f0000400000-7f0000401000 r-xp 00000000 00:00 0 [vdso]
        Anonymous:             0 kB
        """;

    [Fact]
    public void Only_code_that_is_as_it_stands_in_its_file_is_given_back() =>
        Assert.Equal(
            [(0x400000, 0x100000), (0x500000, 0x400000), (0xa80000, 0x10000), (unchecked((nint)0x7f0000100000), 0x100000)],
            StartMemory.CodeOf(Smaps.Split('\n'), "/opt/laserwatch/laserwatch"));
}
