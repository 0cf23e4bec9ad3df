using System.Runtime.InteropServices;

namespace LaserWatch.Health;

/// <summary>The C library's heap, from which SQLite and the runtime's compiler take their memory.</summary>
/// <remarks>
/// It makes another heap for each thread that asks while one is in use, and each keeps what its thread once needed at most. Of the runtime's own
/// threads some have one before this program begins; so the unit and the image set <c>MALLOC_ARENA_MAX</c> too. With a single one a day of 200 machines
/// takes 40 MB less at most. Does nothing where the C library is not GNU's.
/// </remarks>
internal static class NativeHeap
{
    private const int MostHeaps = -8; // M_ARENA_MAX

    /// <summary>Threads that are still to come get none of their own.</summary>
    public static void KeepTogether()
    {
        try
        {
            _ = Set(MostHeaps, 1); // refused, it is as it was
        }
        catch (Exception e) when (e is EntryPointNotFoundException or DllNotFoundException)
        {
            // Another C library, which has none of its own for each thread.
        }
    }

    /// <summary>Gives what lies unused back to the system.</summary>
    public static void GiveBack()
    {
        try
        {
            _ = Trim(0);
        }
        catch (Exception e) when (e is EntryPointNotFoundException or DllNotFoundException)
        {
            // As above.
        }
    }

    [DllImport("libc", EntryPoint = "mallopt")]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static extern int Set(int parameter, int value);

    [DllImport("libc", EntryPoint = "malloc_trim")]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static extern int Trim(nuint left);
}
