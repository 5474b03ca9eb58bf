// Ask for one stack and print the service's answer as it came: OneStack [ADDRESS]
// .NET Framework 4.6.2 or newer, .NET 8, or Mono; nothing but what they bring.
using System;
using System.Net.Http;
using System.Text;

public static class OneStack
{
    // Lengths are text, so that no digit is lost.
    private const string Request =
        "{\"unit\": \"in\", \"sets\": [{\"id\": \"crib\", \"composition\": \"inch-81\", \"grade\": \"AS-1\"}],"
        + " \"targets\": [{\"ref\": \"op10\", \"kind\": \"length\", \"length\": \"0.3506\"}]}";

    public static int Main(string[] args)
    {
        var address = args.Length > 0 ? args[0] : "http://127.0.0.1:8000";
        using (var client = new HttpClient { Timeout = TimeSpan.FromSeconds(60) })
        {
            var body = new StringContent(Request, Encoding.UTF8, "application/json");
            var response = client.PostAsync(address + "/v1/stacks", body).Result;
            Console.WriteLine(response.Content.ReadAsStringAsync().Result);
            return response.IsSuccessStatusCode ? 0 : 1;
        }
    }
}
