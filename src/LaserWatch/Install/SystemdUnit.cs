namespace LaserWatch.Install;

/// <summary>The unit that runs the agent with as few rights as it can do with.</summary>
internal static class SystemdUnit
{
    /// <param name="writableFolders">Folders besides its own that the agent must write to.</param>
    public static string Text(InstallLayout layout, IReadOnlyList<string> writableFolders)
    {
        var writable = writableFolders.Count == 0 ? "" : $"ReadWritePaths={string.Join(' ', writableFolders.Select(Written))}\n";
        return $"""
            # Written by 'laserwatch install', which writes it anew each time. Changes of your own: systemctl edit laserwatch
            [Unit]
            Description=LaserWatch: watches laser cutters by their sensors; it advises and is no safety device
            Wants=network-online.target
            After=network-online.target time-sync.target mosquitto.service influxdb.service
            # A fault that comes back at once is not mended by starting for ever: after twenty in ten minutes it stays down and failed.
            StartLimitIntervalSec=10min
            StartLimitBurst=20

            [Service]
            Type=notify
            NotifyAccess=main
            User={InstallLayout.Account}
            Group={InstallLayout.Account}
            ExecStart={layout.Program} run --config {layout.Configuration}
            WorkingDirectory={layout.StateFolder}
            # Secrets that the configuration takes from the environment: NAME=value lines, readable by root alone.
            EnvironmentFile=-{layout.ConfigurationFolder}/environment
            # The one file holds native libraries (SQLite, Skia) that the loader needs as files of their own.
            Environment=DOTNET_BUNDLE_EXTRACT_BASE_DIR={layout.CacheFolder}
            # One heap for all threads: each of its own would keep what its thread once needed at most.
            Environment=MALLOC_ARENA_MAX=1
            Restart=on-failure
            RestartSec=10
            # A wrong configuration is mended by a person.
            RestartPreventExitStatus=2
            # Before it is ready a new program may bring the tables of a large store up to date.
            TimeoutStartSec=30min
            # It stops within five seconds by itself.
            TimeoutStopSec=20
            # The agent gives a sign of life for as long as its pipeline takes the ticks of its clock.
            WatchdogSec=60

            StateDirectory={InstallLayout.Account}
            # The group may write: a reader of the store, such as 'laserwatch trend', must write its index.
            StateDirectoryMode=0770
            LogsDirectory={InstallLayout.Account}
            LogsDirectoryMode=0750
            CacheDirectory={InstallLayout.Account}
            CacheDirectoryMode=0750
            ConfigurationDirectory={InstallLayout.Account}
            ConfigurationDirectoryMode=0750
            {writable}UMask=0027

            NoNewPrivileges=yes
            CapabilityBoundingSet=
            AmbientCapabilities=
            ProtectSystem=strict
            ProtectHome=yes
            PrivateTmp=yes
            PrivateDevices=yes
            DevicePolicy=closed
            ProtectKernelTunables=yes
            ProtectKernelModules=yes
            ProtectKernelLogs=yes
            ProtectControlGroups=yes
            ProtectClock=yes
            ProtectHostname=yes
            ProtectProc=invisible
            RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX AF_NETLINK
            RestrictNamespaces=yes
            RestrictRealtime=yes
            RestrictSUIDSGID=yes
            LockPersonality=yes
            RemoveIPC=yes
            KeyringMode=private
            # MemoryDenyWriteExecute stays off: the runtime compiles while it runs, and must make what it wrote executable.
            MemoryDenyWriteExecute=no
            SystemCallArchitectures=native
            SystemCallFilter=@system-service
            SystemCallFilter=~@privileged
            SystemCallErrorNumber=EPERM

            [Install]
            WantedBy=multi-user.target

            """;
    }

    // A blank ends a path, and '%' begins a specifier.
    private static string Written(string path)
    {
        var text = path.Replace("%", "%%", StringComparison.Ordinal);
        return text.Contains(' ', StringComparison.Ordinal) ? $"\"{text}\"" : text;
    }
}
